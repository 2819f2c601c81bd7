-- What is said in files, to be found by; and searches that somebody keeps.

create table transcripts (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    file_id uuid not null references files on delete cascade,
    -- of the uploaded file
    name text not null check (length(name) between 1 and 200),
    -- BCP 47, '' when nobody said
    language text not null check (length(language) <= 35),
    lines integer not null,
    brought_by uuid references users on delete set null,
    brought_by_name text not null,
    created_at timestamptz not null
);
create index transcripts_series on transcripts (series_id);
create index transcripts_file on transcripts (file_id);
create index transcripts_brought_by on transcripts (brought_by);

create table transcript_lines (
    transcript_id uuid not null references transcripts on delete cascade,
    position integer not null,
    series_id uuid not null references series on delete cascade,
    file_id uuid not null references files on delete cascade,
    -- milliseconds from the file's first frame
    start_ms bigint not null,
    end_ms bigint not null check (end_ms > start_ms),
    speaker text not null,
    text text not null,
    -- speaker and text, folded
    words text not null,
    primary key (transcript_id, position)
);
create index transcript_lines_series on transcript_lines (series_id);
create index transcript_lines_file on transcript_lines (file_id, start_ms);
create index transcript_lines_words on transcript_lines using gin (words gin_trgm_ops) with (fastupdate = off);

create table saved_searches (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    owner_id uuid not null references users on delete cascade,
    name text not null check (length(name) between 1 and 100),
    -- the part of the page's address after the question mark
    query text not null check (length(query) between 1 and 4000),
    -- seen by everybody who may see footage
    shared boolean not null,
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null
);
create index saved_searches_series on saved_searches (series_id, lower(name));
create index saved_searches_owner on saved_searches (owner_id);
