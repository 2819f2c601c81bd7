-- Who has which share in a piece of music, and the cue sheets that are made from cuts.

alter table music
    add column parties jsonb not null default '[]',
    add column share_convention text not null default 'each_side' check (share_convention in ('each_side', 'together')),
    -- why there is no publisher
    add column publisher_note text not null default '',
    -- another recording of the same work: its composition, parties and ISWC hold for this one too
    add column same_work_id uuid references music on delete restrict;
create index music_same_work on music (same_work_id);

-- What a person adds to an episode's sheet: its head, and how cues are counted.
create table cue_sheets (
    episode_id uuid primary key references episodes on delete cascade,
    series_id uuid not null references series on delete cascade,
    also_known_as text not null,
    production_number text not null,
    contact text not null,
    country text not null,
    year text not null,
    director text not null,
    gap_frames bigint not null check (gap_frames between 0 and 250),
    rounding text not null check (rounding in ('nearest', 'up')),
    "overlaps" text not null check ("overlaps" in ('second_begins_after', 'as_heard')),
    total text not null check (total in ('of_frames', 'of_cues')),
    version integer not null,
    updated_at timestamptz not null
);
create index cue_sheets_series on cue_sheets (series_id);

-- What a person says of a cue. The cue itself is made from the cut; it is named by its music and its frames.
create table cue_details (
    cut_id uuid not null references cuts on delete cascade,
    music_id uuid not null references music on delete cascade,
    record_in bigint not null,
    record_out bigint not null check (record_out > record_in),
    series_id uuid not null references series on delete cascade,
    episode_id uuid not null references episodes on delete cascade,
    usage text check (usage in ('background', 'featured', 'theme', 'logo')),
    vocals text check (vocals in ('vocal', 'instrumental')),
    performer_visible boolean,
    -- for the team; never printed
    note text not null,
    version integer not null,
    updated_at timestamptz not null,
    primary key (cut_id, music_id, record_in, record_out)
);
create index cue_details_series on cue_details (series_id);
create index cue_details_episode on cue_details (episode_id);
create index cue_details_music on cue_details (music_id);

-- Sheets as they were sent: never changed.
create table issued_cue_sheets (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    episode_id uuid not null references episodes on delete cascade,
    number integer not null check (number > 0),
    sheet jsonb not null,
    pdf bytea not null,
    xlsx bytea not null,
    csv bytea not null,
    pdf_sha256 text not null,
    issued_by uuid references users on delete set null,
    issued_by_name text not null,
    issued_at timestamptz not null
);
create index issued_cue_sheets_series on issued_cue_sheets (series_id);
create index issued_cue_sheets_issued_by on issued_cue_sheets (issued_by);
create unique index issued_cue_sheets_number on issued_cue_sheets (episode_id, number);
