-- Still pictures of clips, made by the command on the computer where the clip lies. The picture itself is in the file
-- store, under its SHA-256.
create table file_pictures (
    file_id uuid not null references files on delete cascade,
    kind text not null check (kind in ('poster', 'contact_sheet')),
    series_id uuid not null references series on delete cascade,
    sha256 text not null,
    -- bytes
    size integer not null check (size > 0),
    created_at timestamptz not null,
    primary key (file_id, kind)
);
create index file_pictures_series on file_pictures (series_id, sha256);
