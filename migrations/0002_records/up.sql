-- The records of a series: episodes, shoot days, people and their releases, what is borrowed and on what terms,
-- and what is owed to whom by when. Lists inside a record (grants, restrictions) are documents of the record: they are
-- read and written with it, under its version, in the shapes of the domain's types.

-- A document is its content: the same scan uploaded twice is one row.
create table documents (
    series_id uuid not null references series on delete cascade,
    id text not null check (id ~ '^[0-9a-f]{64}$'),
    name text not null check (length(name) between 1 and 255),
    media_type text not null,
    size bigint not null check (size > 0),
    created_at timestamptz not null,
    primary key (series_id, id)
);

create table episodes (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    number integer not null check (number between 0 and 9999),
    title text not null check (length(title) between 1 and 200),
    status text not null check (status in
        ('shooting', 'cutting', 'locked', 'delivering', 'delivered', 'on_air', 'window_closing')),
    slot_seconds integer check (slot_seconds > 0),
    -- the events that start a term (R2): known dates, and planned ones that give provisional ends
    first_transmission date,
    first_transmission_planned date,
    delivered date,
    delivery_planned date,
    first_use date,
    notes text not null,
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null,
    deleted_at timestamptz
);
create index episodes_series on episodes (series_id);
create unique index episodes_number on episodes (series_id, number) where deleted_at is null;

create table scenes (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    episode_id uuid not null references episodes on delete cascade,
    position integer not null,
    kind text not null check (kind in ('cold_open', 'titles', 'scene')),
    title text not null check (length(title) between 1 and 200),
    -- labels in the cut, where known
    starts_at text,
    ends_at text,
    notes text not null,
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null,
    deleted_at timestamptz
);
create index scenes_series on scenes (series_id);
create index scenes_episode on scenes (episode_id, position);

create table places (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    name text not null check (length(name) between 1 and 200),
    address text not null,
    owner text not null,
    signatory text not null,
    notes text not null,
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null,
    deleted_at timestamptz
);
create index places_series on places (series_id);

create table shoot_days (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    day date not null,
    title text not null check (length(title) <= 200),
    place_ids uuid[] not null,
    cards_expected integer not null check (cards_expected between 0 and 500),
    crew text not null,
    cast_expected text not null,
    notices_posted text not null,
    risk_note text not null,
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null,
    deleted_at timestamptz
);
create index shoot_days_series on shoot_days (series_id, day);

create table people (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    legal_name text not null check (length(legal_name) <= 200),
    credited_name text not null check (length(credited_name) between 1 and 200),
    credited_name_confirmed_by text not null,
    credited_name_confirmed_on date,
    pronunciation text not null,
    contact text not null,
    born date,
    -- where no date of birth is kept: adult | minor
    age_band text check (age_band in ('adult', 'minor')),
    guardian_name text not null,
    guardian_relationship text not null,
    guardian_contact text not null,
    language text not null,
    died date,
    sensitive boolean not null,
    recognised_by text not null,
    notes text not null,
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null,
    deleted_at timestamptz
);
create index people_series on people (series_id);

create table releases (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    kind text not null check (kind in
        ('appearance', 'minor', 'location', 'materials', 'artwork', 'crowd_notice', 'crew', 'school')),
    person_id uuid references people on delete restrict,
    place_id uuid references places on delete restrict,
    asset_id uuid,
    status text not null check (status in
        ('not_asked', 'asked', 'signed_not_checked', 'ok', 'problem', 'restricted_ok', 'withdrawn_being_decided',
         'not_needed')),
    status_note text not null,
    signed_by text check (signed_by in ('self', 'guardian', 'owner', 'other')),
    signed_by_name text not null,
    signed_on date,
    filmed_from date,
    filmed_to date,
    entity text not null,
    law text not null,
    consideration text not null,
    allows_editing boolean not null,
    allows_promotion boolean not null,
    form_version text not null,
    grants jsonb not null,
    restrictions jsonb not null,
    withdrawal jsonb,
    document_id text,
    original_held text not null,
    notes text not null,
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null,
    deleted_at timestamptz,
    check (filmed_to >= filmed_from)
);
create index releases_series on releases (series_id);
create index releases_person on releases (person_id);
create index releases_place on releases (place_id);

-- Imported assets: anything in the cut that the team did not film or record.
create table assets (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    class text not null check (class in
        ('still', 'archive', 'web', 'phone_video', 'sound_effect', 'font', 'graphic', 'artwork', 'brand', 'newspaper',
         'made_by_machine', 'other')),
    title text not null check (length(title) between 1 and 200),
    description text not null,
    owner text not null,
    source text not null,
    -- the ground on which it may be shown (rulebook 3.2)
    basis text not null check (basis in
        ('licensed', 'released', 'public_domain', 'fair_use', 'fair_dealing', 'incidental', 'own', 'creative_commons',
         'not_needed', 'unknown')),
    basis_note text not null,
    basis_decided_by text not null,
    basis_decided_on date,
    credit_line text not null,
    -- names under which it stands in a cut: file or clip names
    match_names text[] not null,
    embedded text not null,
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null,
    deleted_at timestamptz
);
create index assets_series on assets (series_id);
alter table releases add foreign key (asset_id) references assets on delete restrict;
create index releases_asset on releases (asset_id);

create table music (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    title text not null check (length(title) between 1 and 200),
    origin text not null check (origin in ('commercial', 'production', 'commissioned', 'live')),
    composers text not null,
    publishers text not null,
    performers text not null,
    label text not null,
    catalogue_number text not null,
    iswc text not null,
    isrc text not null,
    -- the composition may be free of rights while the recording is not
    composition_public_domain boolean not null,
    composition_note text not null,
    match_names text[] not null,
    notes text not null,
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null,
    deleted_at timestamptz
);
create index music_series on music (series_id);

create table licences (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    asset_id uuid references assets on delete restrict,
    music_id uuid references music on delete restrict,
    -- whole: assets; composition and recording: the two sides of music; both: one party gives both
    side text not null check (side in ('whole', 'composition', 'recording', 'both')),
    licensor text not null check (length(licensor) between 1 and 200),
    reference text not null,
    status text not null check (status in
        ('temp', 'asking', 'quoted', 'agreed_unsigned', 'signed', 'paid', 'replaced')),
    signed_on date,
    grants jsonb not null,
    fee_minor bigint check (fee_minor >= 0),
    currency text not null,
    payment_due date,
    credit_line text not null,
    allows_promotion boolean not null,
    conditions text not null,
    document_id text,
    notes text not null,
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null,
    deleted_at timestamptz,
    check ((asset_id is null) <> (music_id is null)),
    check ((music_id is null) = (side = 'whole'))
);
create index licences_series on licences (series_id);
create index licences_asset on licences (asset_id);
create index licences_music on licences (music_id);

create table specifications (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    name text not null check (length(name) between 1 and 200),
    broadcaster text not null,
    edition text not null,
    territories text[] not null,
    territories_except text[] not null,
    media text[] not null,
    media_except text[] not null,
    needed_from date not null,
    needed_to date not null,
    overhang_months integer not null check (overhang_months between 0 and 600),
    notes text not null,
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null,
    deleted_at timestamptz,
    check (needed_to >= needed_from)
);
create index specifications_series on specifications (series_id);

create table deliverables (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    episode_id uuid not null references episodes on delete cascade,
    specification_id uuid references specifications on delete restrict,
    item text not null check (length(item) between 1 and 200),
    due_on date,
    owner_id uuid references users on delete set null,
    status text not null check (status in
        ('not_started', 'in_work', 'ready', 'sent', 'accepted', 'rejected', 'waived')),
    status_note text not null,
    notes text not null,
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null,
    deleted_at timestamptz
);
create index deliverables_series on deliverables (series_id);
create index deliverables_episode on deliverables (episode_id);
create index deliverables_specification on deliverables (specification_id);
create index deliverables_owner on deliverables (owner_id);
