-- What the taking in of scans and the search of files need beside the first tables.

-- The volume that the operating system named when the drive was read: two labels for one volume are one drive.
-- twin_of: this drive holds the same tree, times included, as that one, and nobody has said that they are two.
-- Until then the two count as one device ("unknown is never a yes").
alter table drives
    add volume text not null default '' check (length(volume) <= 200),
    add twin_of uuid references drives on delete set null,
    add known_separate boolean not null default false;
create index drives_twin on drives (twin_of);
create unique index drives_volume on drives (series_id, volume) where volume <> '' and deleted_at is null;

-- Folded words of name, folders, card, camera and reel: lower case, without accents.
alter table files add folded text not null default '';

-- A place keeps the history of its contents: at most one of its rows is not `changed`.
drop index copies_place;
create unique index copies_place on copies (drive_id, path, file_id);

alter table scans
    -- paths below the root that could not be read
    add skipped jsonb not null default '[]',
    -- what was answered when it was completed, so that asking again gets the same answer
    add summary jsonb;

-- Which copies a scan that is still being received has seen. Emptied when it is complete; no reference to copies,
-- because this is written once per file and looked up only by scan.
create table scan_seen (
    scan_id uuid not null references scans on delete cascade,
    copy_id uuid not null,
    primary key (scan_id, copy_id)
);
