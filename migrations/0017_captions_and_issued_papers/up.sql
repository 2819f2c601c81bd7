-- Captions of cuts, and papers as they were sent to a broadcaster.

-- What stands on screen in a cut, all of it in one list: in, out (frames counted from 00:00:00:00), text, whom it names.
create table cut_captions (
    cut_id uuid primary key references cuts on delete cascade,
    series_id uuid not null references series on delete cascade,
    items jsonb not null,
    version integer not null,
    updated_by text not null,
    updated_at timestamptz not null
);
create index cut_captions_series on cut_captions (series_id);

-- Papers as they were sent: never changed; one that was sent in error is taken back and no longer shown.
create table issued_papers (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    episode_id uuid not null references episodes on delete cascade,
    kind text not null check (kind in ('report', 'third_party', 'credits', 'checklist', 'chain_of_title')),
    form text not null check (form in ('pdf', 'xlsx', 'csv')),
    cut_name text not null,
    specification text not null,
    file_name text not null,
    note text not null,
    bytes bytea not null,
    sha256 text not null,
    issued_by uuid references users on delete set null,
    issued_by_name text not null,
    issued_at timestamptz not null,
    taken_back_at timestamptz,
    taken_back_by text not null default ''
);
create index issued_papers_series on issued_papers (series_id);
create index issued_papers_episode on issued_papers (episode_id);
create index issued_papers_issued_by on issued_papers (issued_by);
