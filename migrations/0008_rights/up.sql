-- Rights in full: groups of territories, what a delivery needs besides, further terms of licences and releases, facts of
-- grounds, elements inside elements, showings and their repeat checks, approvals, notes that only named people may open.

-- Groups of territories that the team keeps under a name. The name stands wherever codes of territories stand.
create table territory_groups (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    name text not null check (length(name) between 4 and 60),
    territories text[] not null,
    notes text not null,
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null,
    deleted_at timestamptz
);
create index territory_groups_series on territory_groups (series_id);
create unique index territory_groups_name on territory_groups (series_id, lower(name)) where deleted_at is null;

alter table specifications
    add column runs_needed integer check (runs_needed between 0 and 10000),
    add column for_promotion boolean not null default false,
    add column version_name text not null default '';

-- terms and details are documents of the record, in the shapes of the domain's types
alter table licences add column terms jsonb not null default '{}';
alter table releases add column details jsonb not null default '{}';
alter table releases drop constraint releases_kind_check;
alter table releases add constraint releases_kind_check check (kind in
    ('appearance', 'minor', 'location', 'materials', 'artwork', 'crowd_notice', 'crew', 'school', 'team', 'league'));

-- permissions that must stand beside a person's own: of a school, a team, a league
alter table people add column also_needed text[] not null default '{}';

alter table assets
    add column basis_territories text[] not null default '{}',
    add column basis_details jsonb not null default '{}',
    -- people, imports and music inside it, which come into the cut with it
    add column contents jsonb not null default '[]';
alter table music add column composition_territories text[] not null default '{}';

alter table log_entries add column voice_changed boolean not null default false;

-- When and where an episode was or will be shown: what uses up runs, and what a repeat must be checked for.
create table showings (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    episode_id uuid not null references episodes on delete cascade,
    day date not null,
    -- hours and minutes on the clock of the place
    at_time text not null check (at_time ~ '^([01][0-9]|2[0-3]):[0-5][0-9]$'),
    territories text[] not null,
    media text[] not null,
    repeat boolean not null,
    -- the six questions before a repeat, with who answered
    repeat_check jsonb not null,
    notes text not null,
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null,
    deleted_at timestamptz
);
create index showings_series on showings (series_id);
create index showings_episode on showings (episode_id, day);

-- An approval and what it covered: each element with the fingerprint of what was approved about it.
create table approvals (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    episode_id uuid not null references episodes on delete cascade,
    cut_id uuid not null references cuts on delete cascade,
    specification_id uuid not null references specifications on delete cascade,
    approved_by uuid references users on delete set null,
    approved_by_name text not null,
    approved_at timestamptz not null,
    -- whoever approved also entered papers behind it
    self_approved boolean not null,
    note text not null,
    covered jsonb not null,
    withdrawn_at timestamptz,
    withdrawn_by_name text not null
);
create index approvals_series on approvals (series_id);
create index approvals_episode on approvals (episode_id, specification_id, approved_at);
create index approvals_cut on approvals (cut_id);
create index approvals_specification on approvals (specification_id);
create index approvals_approved_by on approvals (approved_by);

-- Notes that only the people named in them may open. Each opening leaves an audit line; the text never does.
create table sealed_notes (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    subject_kind text not null check (subject_kind in ('person', 'release')),
    subject_id uuid not null,
    title text not null check (length(title) between 1 and 120),
    body text not null check (length(body) between 1 and 20000),
    readers uuid[] not null,
    written_by uuid references users on delete set null,
    written_by_name text not null,
    created_at timestamptz not null,
    deleted_at timestamptz
);
create index sealed_notes_series on sealed_notes (series_id);
create index sealed_notes_subject on sealed_notes (subject_id);
create index sealed_notes_written_by on sealed_notes (written_by);
