-- Footage and cuts. A file is its content; a copy is that content at a path on a drive.

create table drives (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    label text not null check (length(label) between 1 and 100),
    serial text not null,
    kind text not null check (kind in ('hdd', 'ssd', 'lto', 'raid', 'cloud', 'other')),
    capacity_bytes bigint check (capacity_bytes >= 0),
    free_bytes bigint check (free_bytes >= 0),
    bought_on date,
    encrypted boolean not null,
    place text not null,
    holder text not null,
    status text not null check (status in ('fine', 'check_due', 'mismatch', 'missing', 'retired')),
    next_check_on date,
    notes text not null,
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null,
    deleted_at timestamptz
);
create index drives_series on drives (series_id);
create unique index drives_label on drives (series_id, lower(label)) where deleted_at is null;

create table cards (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    shoot_day_id uuid references shoot_days on delete set null,
    name text not null check (length(name) between 1 and 100),
    camera text not null,
    number text not null,
    shot_on date,
    state text not null check (state in ('in_camera', 'offloading', 'two_copies_checked', 'safe_to_wipe', 'wiped')),
    wiped_by text not null,
    wiped_on date,
    notes text not null,
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null,
    deleted_at timestamptz
);
create index cards_series on cards (series_id);
create index cards_shoot_day on cards (shoot_day_id);
create unique index cards_name on cards (series_id, name) where deleted_at is null;

-- One row per content. The strongest hash that every scan makes (xxh128) identifies it together with the size.
create table files (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    card_id uuid references cards on delete set null,
    name text not null,
    -- name without extension, lower case: what a cut calls a clip
    stem text not null,
    size bigint not null check (size >= 0),
    xxh128 text not null,
    hashes jsonb not null,
    kind text not null check (kind in ('picture', 'sound', 'other')),
    -- facts from the header, as read
    facts jsonb,
    reel text not null,
    rate_num integer,
    rate_den integer,
    drop_frame boolean,
    start_frame bigint,
    frame_count bigint,
    created_at timestamptz not null
);
create index files_series on files (series_id, name, id);
create index files_card on files (card_id);
create unique index files_content on files (series_id, xxh128, size);
create index files_stem on files (series_id, stem);
create index files_reel on files (series_id, lower(reel)) where reel <> '';

create table copies (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    file_id uuid not null references files on delete cascade,
    drive_id uuid not null references drives on delete cascade,
    path text not null,
    mtime timestamptz,
    -- when the content was last read from this drive and hashed
    checked_at timestamptz not null,
    state text not null check (state in ('verified', 'changed', 'missing', 'unreadable'))
);
create index copies_series on copies (series_id);
create index copies_file on copies (file_id);
create unique index copies_place on copies (drive_id, path);

create table scans (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    drive_id uuid not null references drives on delete cascade,
    started_by uuid references users on delete set null,
    root text not null,
    tool text not null,
    state text not null check (state in ('receiving', 'complete')),
    next_chunk integer not null,
    files integer not null,
    bytes bigint not null,
    new_files integer not null,
    new_copies integer not null,
    warnings jsonb not null,
    created_at timestamptz not null,
    completed_at timestamptz
);
create index scans_series on scans (series_id);
create index scans_drive on scans (drive_id);
create index scans_started_by on scans (started_by);

-- What a chunk held, so that sending it again is harmless and sending another under its number is refused.
create table scan_chunks (
    scan_id uuid not null references scans on delete cascade,
    number integer not null,
    digest text not null,
    files integer not null,
    primary key (scan_id, number)
);

create table cuts (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    episode_id uuid not null references episodes on delete cascade,
    name text not null check (length(name) between 1 and 200),
    cut_date date,
    cut_number integer,
    format text not null check (format in ('edl', 'otio')),
    title text not null,
    rate text not null,
    start_frame bigint not null,
    duration_frames bigint not null,
    locked boolean not null,
    source_sha256 text not null,
    source bytea not null,
    warnings jsonb not null,
    imported_by uuid references users on delete set null,
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null,
    deleted_at timestamptz
);
create index cuts_series on cuts (series_id);
create index cuts_episode on cuts (episode_id, created_at);
create index cuts_imported_by on cuts (imported_by);

create table cut_events (
    cut_id uuid not null references cuts on delete cascade,
    series_id uuid not null references series on delete cascade,
    position integer not null,
    -- line number in a list, path in a structured file
    origin text not null,
    event text not null,
    track text not null,
    picture boolean not null,
    kind text not null,
    reel text not null,
    clip text not null,
    source_name text not null,
    rate text not null,
    record_in bigint not null,
    record_out bigint not null,
    source_in bigint,
    source_out bigint,
    speed text,
    comments jsonb not null,
    -- how the source was found; unknown is a result, not an absence
    match_kind text not null check (match_kind in ('file', 'asset', 'music', 'black', 'unknown')),
    match_how text not null,
    file_id uuid references files on delete set null,
    asset_id uuid references assets on delete set null,
    music_id uuid references music on delete set null,
    -- frames of the matched file counted from its first frame
    file_in bigint,
    file_out bigint,
    primary key (cut_id, position)
);
create index cut_events_series on cut_events (series_id);
create index cut_events_file on cut_events (file_id);
create index cut_events_asset on cut_events (asset_id);
create index cut_events_music on cut_events (music_id);

-- A match that a person made; the next cut finds it by the same key.
create table remembered_matches (
    series_id uuid not null references series on delete cascade,
    key text not null,
    file_id uuid references files on delete cascade,
    asset_id uuid references assets on delete cascade,
    music_id uuid references music on delete cascade,
    made_by uuid references users on delete set null,
    made_at timestamptz not null,
    primary key (series_id, key)
);
create index remembered_matches_file on remembered_matches (file_id);
create index remembered_matches_asset on remembered_matches (asset_id);
create index remembered_matches_music on remembered_matches (music_id);
create index remembered_matches_made_by on remembered_matches (made_by);

-- Who and what is in a file, or in a range of it (frames from the file's first, end exclusive; null: all of it).
-- An entry of kind nothing says that somebody looked and found nothing to clear.
create table log_entries (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    file_id uuid not null references files on delete cascade,
    frame_in bigint,
    frame_out bigint,
    kind text not null check (kind in ('person', 'place', 'asset', 'music', 'nothing')),
    person_id uuid references people on delete restrict,
    place_id uuid references places on delete restrict,
    asset_id uuid references assets on delete restrict,
    music_id uuid references music on delete restrict,
    presence text not null check (presence in ('on_camera', 'voice', 'background', 'in_shot', 'heard', 'none')),
    face text not null check (face in ('shown', 'hidden', 'blurred', 'not_applicable')),
    named_on_screen boolean not null,
    note text not null,
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null,
    deleted_at timestamptz,
    check (frame_out > frame_in),
    check ((frame_in is null) = (frame_out is null))
);
create index log_entries_series on log_entries (series_id);
create index log_entries_file on log_entries (file_id);
create index log_entries_person on log_entries (person_id);
create index log_entries_place on log_entries (place_id);
create index log_entries_asset on log_entries (asset_id);
create index log_entries_music on log_entries (music_id);
