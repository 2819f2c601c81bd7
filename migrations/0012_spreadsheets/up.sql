-- Lists that teams have already: a file that is being mapped, how files of one form are read, and what came of it.

-- Kept for a day, with everything that stands in it, then deleted: a list of people is personal data.
create table sheet_uploads (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    user_id uuid not null references users on delete cascade,
    kind text not null,
    name text not null check (length(name) between 1 and 255),
    content bytea not null,
    created_at timestamptz not null
);
create index sheet_uploads_series on sheet_uploads (series_id);
create index sheet_uploads_user on sheet_uploads (user_id);
create index sheet_uploads_created on sheet_uploads (created_at);

-- How a list of one form is read, under a name, for the next list of that form.
create table sheet_mappings (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    kind text not null,
    name text not null check (length(name) between 1 and 100),
    mapping jsonb not null,
    made_by text not null,
    updated_at timestamptz not null
);
create unique index sheet_mappings_name on sheet_mappings (series_id, kind, lower(name));

-- One act of bringing in a list.
create table sheet_imports (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    kind text not null,
    file_name text not null,
    user_id uuid references users on delete set null,
    user_name text not null,
    at timestamptz not null,
    made integer not null,
    changed integer not null,
    left_out integer not null,
    faulty integer not null,
    -- the lines of the audit trail that belong to it carry the same
    request_id uuid,
    undone_at timestamptz,
    undone_by text,
    -- what the undo left as it is, and why
    kept jsonb
);
create index sheet_imports_series on sheet_imports (series_id, id desc);
create index sheet_imports_user on sheet_imports (user_id);

-- Which record each row made or changed, and what it was before.
create table sheet_import_rows (
    import_id uuid not null references sheet_imports on delete cascade,
    record_id uuid not null,
    number integer not null,
    version integer not null,
    before jsonb,
    primary key (import_id, record_id)
);
