-- Finding files at once among millions. What names say repeats a great deal: two million paths have some ten thousand
-- folders and some ten thousand file names. So words are looked for in those, and files are then reached by number.

create extension if not exists pg_trgm;

create sequence folder_numbers maxvalue 2147483647;

-- Where a folder stands in every list of hits: the newest day first, then in the order of its coming. The day is in the
-- upper bits (days before the year 2871; none: last), the number in the lower 31.
create function folder_key(day date, number bigint) returns bigint language sql immutable parallel safe as
$$ select (case when day is null then 1048576 else greatest(0, 1048575 - (day - date '0001-01-01')) end)::bigint << 31
    | number $$;

-- A folder as a search knows it: what the path of its files says below the drive, with their reel where the path does
-- not name it. Files of one folder belong to one card, or else were modified on one day.
create table folders (
    key bigint primary key,
    series_id uuid not null references series on delete cascade,
    -- folded as ops/finding folds what is typed
    words text not null,
    -- no reference: a card goes only with its series
    card_id uuid,
    modified_on date
);
create unique index folders_place on folders (series_id, words, card_id, modified_on) nulls not distinct;
create index folders_words on folders using gin (words gin_trgm_ops) with (fastupdate = off);
create index folders_card on folders (card_id, key) where card_id is not null;
create index folders_series on folders (series_id, key);

-- Names of files, folded.
create table names (
    id integer primary key generated always as identity,
    series_id uuid not null references series on delete cascade,
    words text not null
);
create unique index names_words on names (series_id, words);
create index names_parts on names using gin (words gin_trgm_ops) with (fastupdate = off);

-- Every word of folders and names, for what was mistyped: a slip changes letters, never digits.
create table search_words (
    series_id uuid not null references series on delete cascade,
    digits text not null,
    word text not null,
    primary key (series_id, digits, word)
);

-- Which drives hold copies of a folder's files.
create table folder_drives (
    folder bigint not null references folders on delete cascade on update cascade,
    drive_id uuid not null references drives on delete cascade,
    primary key (folder, drive_id)
);
create index folder_drives_drive on folder_drives (drive_id, folder);

-- The folder where a file was found first and its name there. No references: written with every file.
alter table files add folder bigint, add name_id integer;

-- Copies under other words than those of where the file was found first: renamed, or read from another level.
create table other_places (
    file_id uuid not null references files on delete cascade,
    place bigint not null,
    name_id integer not null,
    series_id uuid not null references series on delete cascade,
    -- of the file itself
    folder bigint not null,
    primary key (file_id, place, name_id)
);
create index other_places_series on other_places (series_id, folder, file_id);

-- A take or a part of it that somebody marked: what kind of shot, how good, what is seen.
create table shots (
    id uuid primary key,
    series_id uuid not null references series on delete cascade,
    file_id uuid not null references files on delete cascade,
    folder bigint not null,
    frame_in bigint,
    frame_out bigint,
    kind text check (kind in ('interview', 'piece_to_camera', 'actuality', 'general_view', 'establishing',
        'wide', 'medium', 'close_up', 'cutaway', 'insert', 'aerial', 'archive', 'wild_track')),
    rank smallint check (rank between 1 and 3),
    words text not null check (length(words) <= 2000),
    version integer not null,
    created_at timestamptz not null,
    updated_at timestamptz not null,
    deleted_at timestamptz,
    check (frame_out > frame_in),
    check ((frame_in is null) = (frame_out is null)),
    check (rank is not null or kind is not null or words <> '')
);
create index shots_rank on shots (series_id, rank, folder, file_id);
create index shots_kind on shots (series_id, kind, folder, file_id);
create index shots_file on shots (file_id);

alter table log_entries add folder bigint;

-- What is there already. The folded text had path, name and reel in one; the name is taken out of it again.
create temporary table placed on commit drop as
select id, series_id, card_id, modified_on, name,
    btrim(regexp_replace(case when position(name in folded) > 0
        then overlay(folded placing ' ' from position(name in folded) for length(name)) else folded end, ' +', ' ', 'g'))
        as words
from (
    select f.id, f.series_id, f.card_id, f.folded,
        btrim(regexp_replace(lower(regexp_replace(normalize(f.name, nfkd), '[\u0300-\u036f]', '', 'g')), '[\s/]+', ' ',
            'g')) as name,
        case when f.card_id is null then (select (min(c.mtime) at time zone 'UTC')::date from copies c
            where c.file_id = f.id) end as modified_on
    from files f) f;

insert into folders (key, series_id, words, card_id, modified_on)
select folder_key(coalesce(d.day, k.shot_on, p.modified_on), nextval('folder_numbers')), p.series_id, p.words, p.card_id,
    p.modified_on
from (select distinct series_id, words, card_id, modified_on from placed order by words) p
left join cards k on k.id = p.card_id left join shoot_days d on d.id = k.shoot_day_id;

insert into names (series_id, words) select distinct series_id, name from placed order by 2;

update files f set folder = o.key, name_id = n.id
from placed p
join folders o on o.series_id = p.series_id and o.words = p.words and o.card_id is not distinct from p.card_id
    and o.modified_on is not distinct from p.modified_on
join names n on n.series_id = p.series_id and n.words = p.name
where f.id = p.id;

insert into folder_drives (folder, drive_id)
select distinct f.folder, c.drive_id from copies c join files f on f.id = c.file_id;

insert into search_words (series_id, digits, word)
select distinct series_id, regexp_replace(word, '[^0-9]', '', 'g'), word from (
    select series_id, regexp_split_to_table(words, '[][\s._/(){},;:+&=''"~!@#$%^-]+') as word
    from (select series_id, words from folders union all select series_id, words from names) w) w
where length(word) between 3 and 40;

update log_entries l set folder = f.folder from files f where f.id = l.file_id;

alter table files alter folder set not null, alter name_id set not null, drop column folded;
alter table log_entries alter folder set not null;

drop index files_series;
create index files_folder on files (folder, id) include (name_id);
create index files_name on files (name_id, folder, id);
create index files_timecode on files (series_id, start_frame, frame_count, folder) where start_frame is not null;
drop index files_card;
create index files_card on files (card_id, folder);
drop index files_reel;
create index files_reel on files (series_id, lower(reel), folder) where reel <> '';
-- digests beside the one by which files are told apart
create index files_md5 on files (series_id, (hashes ->> 'md5')) where hashes ? 'md5';
create index files_sha1 on files (series_id, (hashes ->> 'sha1')) where hashes ? 'sha1';
create index files_sha256 on files (series_id, (hashes ->> 'sha256')) where hashes ? 'sha256';
create index files_xxh64 on files (series_id, (hashes ->> 'xxh64')) where hashes ? 'xxh64';
create index files_xxh3 on files (series_id, (hashes ->> 'xxh3')) where hashes ? 'xxh3';
create index files_c4 on files (series_id, (hashes ->> 'c4')) where hashes ? 'c4';

drop index log_entries_person, log_entries_place, log_entries_asset, log_entries_music, log_entries_series;
create index log_entries_person on log_entries (person_id, folder, file_id);
create index log_entries_place on log_entries (place_id, folder, file_id);
create index log_entries_asset on log_entries (asset_id, folder, file_id);
create index log_entries_music on log_entries (music_id, folder, file_id);
create index log_entries_series on log_entries (series_id, folder, file_id);

-- A file that comes without its place (never by a scan) gets one, so that none is beyond finding.
create function place_file() returns trigger language plpgsql as $$
begin
    insert into names (series_id, words) values (new.series_id, lower(new.name)) on conflict do nothing;
    select id into strict new.name_id from names where series_id = new.series_id and words = lower(new.name);
    insert into folders (key, series_id, words, card_id)
    select folder_key((select coalesce(d.day, k.shot_on) from cards k left join shoot_days d on d.id = k.shoot_day_id
        where k.id = new.card_id), nextval('folder_numbers')), new.series_id, '', new.card_id
    where not exists (select 1 from folders o where o.series_id = new.series_id and o.words = ''
        and o.card_id is not distinct from new.card_id and o.modified_on is null)
    on conflict do nothing;
    select key into strict new.folder from folders o where o.series_id = new.series_id and o.words = ''
        and o.card_id is not distinct from new.card_id and o.modified_on is null;
    return new;
end $$;
create trigger files_have_a_place before insert on files
    for each row when (new.folder is null) execute function place_file();

create function place_by_file() returns trigger language plpgsql as $$
begin
    select folder into new.folder from files where id = new.file_id;
    return new;
end $$;
create trigger log_entries_have_a_place before insert or update of file_id on log_entries
    for each row execute function place_by_file();
create trigger shots_have_a_place before insert or update of file_id on shots
    for each row execute function place_by_file();

-- A card was shot on another day than was thought: its folders stand elsewhere in lists from now on.
create function move_folders(card uuid) returns void language plpgsql as $$
declare
    old record;
    day date := (select coalesce(d.day, k.shot_on) from cards k left join shoot_days d on d.id = k.shoot_day_id
        where k.id = card);
    fresh bigint;
begin
    for old in select key, series_id from folders where card_id = card order by key loop
        fresh := folder_key(day, old.key & 2147483647);
        continue when fresh = old.key;
        update folders set key = fresh where key = old.key;
        update files set folder = fresh where folder = old.key;
        update log_entries set folder = fresh where series_id = old.series_id and folder = old.key;
        update shots set folder = fresh where file_id in (select id from files where folder = fresh);
        update other_places set folder = fresh where series_id = old.series_id and folder = old.key;
        update other_places set place = fresh where series_id = old.series_id and place = old.key;
    end loop;
end $$;
create function card_day_changed() returns trigger language plpgsql as $$
begin
    perform move_folders(new.id);
    return null;
end $$;
create trigger cards_move_their_folders after update of shot_on, shoot_day_id on cards for each row
    when (old.shot_on is distinct from new.shot_on or old.shoot_day_id is distinct from new.shoot_day_id)
    execute function card_day_changed();
create function shoot_day_changed() returns trigger language plpgsql as $$
begin
    perform move_folders(k.id) from cards k where k.shoot_day_id = new.id;
    return null;
end $$;
create trigger shoot_days_move_their_folders after update of day on shoot_days for each row
    when (old.day <> new.day) execute function shoot_day_changed();
