-- What is known of copies and drives over time: every reading of a drive and who made it, who handed a drive to whom,
-- what post said of a card, and the settings by which cards are safe and drives due.

-- One reading of a drive: a scan (its row here has the scan's id), a copy that was read back, or a verification.
create table drive_checks (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    drive_id uuid not null references drives on delete cascade,
    how text not null check (how in ('scan', 'copy', 'verify')),
    -- the folder of the drive that was read
    root text not null,
    tool text not null,
    -- name of the computer, as it calls itself; '' where it was not told
    machine text not null check (length(machine) <= 200),
    checked_by uuid references users on delete set null,
    -- outlives the account
    checked_by_name text not null,
    state text not null check (state in ('receiving', 'complete')),
    next_chunk integer not null,
    lines integer not null,
    -- what was answered when it was completed: counts and sentences
    summary jsonb,
    created_at timestamptz not null,
    completed_at timestamptz
);
create index drive_checks_series on drive_checks (series_id);
create index drive_checks_drive on drive_checks (drive_id, created_at desc);
create index drive_checks_checked_by on drive_checks (checked_by);

create table check_chunks (
    check_id uuid not null references drive_checks on delete cascade,
    number integer not null,
    digest text not null,
    lines integer not null,
    primary key (check_id, number)
);

-- What a verification found that is not as it was: all of it, by path.
create table check_faults (
    check_id uuid not null references drive_checks on delete cascade,
    path text not null,
    result text not null check (result in ('changed', 'missing', 'unreadable', 'new', 'renamed', 'unknown')),
    detail text not null,
    primary key (check_id, path)
);

insert into drive_checks (id, series_id, drive_id, how, root, tool, machine, checked_by, checked_by_name, state,
    next_chunk, lines, created_at, completed_at)
select s.id, s.series_id, s.drive_id, 'scan', s.root, s.tool, '', s.started_by, coalesce(u.name, ''), s.state,
    s.next_chunk, s.files, s.created_at, s.completed_at
from scans s left join users u on u.id = s.started_by;

-- The reading by which this copy is in its state. No reference: it is written with every copy and never looked up by
-- reading; a drive takes its copies and its readings with it.
alter table copies add check_id uuid;

-- A drive changes hands, moves, falls. Rows are only ever added; a mistake is put right by a further one.
create table custody_events (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    drive_id uuid not null references drives on delete cascade,
    kind text not null check (kind in ('handed_over', 'moved', 'dropped', 'repaired')),
    at timestamptz not null,
    from_name text not null check (length(from_name) <= 200),
    to_name text not null check (length(to_name) <= 200),
    to_place text not null check (length(to_place) <= 500),
    condition text not null check (length(condition) <= 1000),
    seal text not null check (length(seal) <= 200),
    -- the name with which the receiver signed for it
    signature text not null check (length(signature) <= 200),
    -- the event that this one replaces
    corrects uuid references custody_events on delete cascade,
    recorded_by uuid references users on delete set null,
    recorded_by_name text not null,
    created_at timestamptz not null
);
create index custody_events_series on custody_events (series_id);
create index custody_events_drive on custody_events (drive_id, at);
create index custody_events_recorded_by on custody_events (recorded_by);
create unique index custody_events_corrects on custody_events (corrects);

-- Post's word on a card (R38); the newest counts.
create table card_reports (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    card_id uuid not null references cards on delete cascade,
    positive boolean not null,
    words text not null check (length(words) <= 2000),
    given_by uuid references users on delete set null,
    given_by_name text not null,
    given_at timestamptz not null
);
create index card_reports_series on card_reports (series_id);
create index card_reports_card on card_reports (card_id, given_at desc, id desc);
create index card_reports_given_by on card_reports (given_by);

alter table cards
    -- why it was wiped while R38 spoke against it
    add wiped_although text not null default '' check (length(wiped_although) <= 2000),
    -- as last worked out: files, their bytes, and on how many devices the worst of them is verified
    add files integer not null default 0,
    add bytes bigint not null default 0,
    add least_copies integer not null default 0;

alter table series
    -- months from one check of a drive to the next (R42)
    add check_months integer not null default 6 check (check_months between 1 and 60),
    -- two copies in one building do not count as two (R38)
    add copies_apart boolean not null default false,
    -- where the team works; a copy anywhere else is off site (R39). '': the place with the most copies
    add main_place text not null default '' check (length(main_place) <= 500),
    -- whether the numbers of cards begin again (R45)
    add roll_restart text not null default 'never' check (roll_restart in ('never', 'each_day'));

create function refuse_custody_change() returns trigger language plpgsql as $$
begin
    raise exception 'custody is only ever added to';
end $$;
create trigger custody_is_append_only
    before update of drive_id, kind, at, from_name, to_name, to_place, condition, seal, signature, corrects
    on custody_events for each statement execute function refuse_custody_change();
