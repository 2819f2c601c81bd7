-- What lies on which drives, counted together: so many files of a card, verified on exactly these drives. What a dead
-- drive takes, how well cards are kept and what stands on one copy is read from here, whatever the number of files.
--
-- Kept by triggers, as an index is: a row is only ever added, by how much a count grew or shrank, and the sum of the
-- rows is the count. So those who take in two drives at once never wait for a count. A job folds the rows together.

create table holdings (
    id bigint generated always as identity primary key,
    series_id uuid not null references series on delete cascade,
    -- files of this card; null: of none. No reference: the card of a file is one
    card_id uuid,
    -- drives that hold a verified copy of each of them, in order, whatever the state of the drive; '{}': no drive
    drives uuid[] not null,
    -- by how much the count and the sum of the sizes changed
    files bigint not null,
    bytes bigint not null
) with (autovacuum_vacuum_scale_factor = 0.1, autovacuum_analyze_scale_factor = 0.05);
create index holdings_series on holdings (series_id);

-- The drives on which these files are verified now.
create function drives_of(wanted uuid[]) returns table (file_id uuid, drives uuid[]) language sql stable as $$
    select c.file_id, array_agg(distinct c.drive_id order by c.drive_id)
    from copies c where c.file_id = any(wanted) and c.state = 'verified' group by c.file_id
$$;

-- After copies came or changed. The table that the statement left is compared with the one it found, which is known
-- from its rows before and after: so one statement may add copies or change them, but not both (`on conflict do
-- update` does both, and is counted wrongly).
create function count_copies() returns trigger language plpgsql as $$
declare
    touched uuid[];
    written uuid[];
    was_on uuid[];
    was_of uuid[];
begin
    if tg_op = 'INSERT' then
        select array_agg(distinct n.file_id), array_agg(n.id) into touched, written
        from new_rows n where n.state = 'verified';
    elsif tg_op = 'DELETE' then
        select array_agg(distinct o.file_id), array_agg(o.drive_id), array_agg(o.file_id)
        into touched, was_on, was_of from old_rows o where o.state = 'verified';
    else
        select array_agg(distinct f.id) into touched
        from old_rows o join new_rows n on n.id = o.id, unnest(array[o.file_id, n.file_id]) as f (id)
        where (o.state = 'verified', o.file_id, o.drive_id)
            is distinct from (n.state = 'verified', n.file_id, n.drive_id);
        if touched is not null then
            select array_agg(n.id) into written from new_rows n;
            select array_agg(o.drive_id), array_agg(o.file_id) into was_on, was_of
            from old_rows o where o.state = 'verified' and o.file_id = any(touched);
        end if;
    end if;
    if touched is null then
        return null;
    end if;
    -- Whoever counts the same files waits here, and then sees what was committed meanwhile.
    perform 1 from files where id = any(touched) order by id for no key update;
    with rows as (
        select c.file_id, c.drive_id, true as is_there, w.id is null as was_there
        from copies c left join unnest(written) w (id) on w.id = c.id
        where c.file_id = any(touched) and c.state = 'verified'
        union all
        select o.file_id, o.drive_id, false, true from unnest(was_of, was_on) o (file_id, drive_id)),
    sets as (
        select f.id, f.series_id, f.card_id, f.size,
            coalesce(array_agg(distinct r.drive_id order by r.drive_id) filter (where r.is_there), '{}') as now_on,
            coalesce(array_agg(distinct r.drive_id order by r.drive_id) filter (where r.was_there), '{}') as once_on
        from files f left join rows r on r.file_id = f.id where f.id = any(touched) group by f.id)
    insert into holdings (series_id, card_id, drives, files, bytes)
    select t.series_id, t.card_id, d.drives, sum(d.sign), sum(d.sign * t.size)
    from sets t
    -- gone with its series: nobody asks any more
    join series s on s.id = t.series_id
    cross join lateral (values (t.now_on, 1), (t.once_on, -1)) d (drives, sign)
    where t.now_on <> t.once_on
    group by t.series_id, t.card_id, d.drives having sum(d.sign) <> 0 or sum(d.sign * t.size) <> 0;
    return null;
end $$;
create trigger copies_came after insert on copies referencing new table as new_rows
    for each statement execute function count_copies();
create trigger copies_changed after update on copies referencing old table as old_rows new table as new_rows
    for each statement execute function count_copies();
create trigger copies_went after delete on copies referencing old table as old_rows
    for each statement execute function count_copies();

-- A content that came has no copy yet. A content never goes but with its series.
create function count_files() returns trigger language plpgsql as $$
begin
    insert into holdings (series_id, card_id, drives, files, bytes)
    select series_id, card_id, '{}', count(*), sum(size) from new_rows group by series_id, card_id;
    return null;
end $$;
create trigger files_came after insert on files referencing new table as new_rows
    for each statement execute function count_files();

-- A content was found to be from a card.
create function count_card() returns trigger language plpgsql as $$
begin
    insert into holdings (series_id, card_id, drives, files, bytes)
    select new.series_id, d.card, coalesce((select drives from drives_of(array[new.id])), '{}'), d.sign, d.sign * new.size
    from (values (old.card_id, -1), (new.card_id, 1)) d (card, sign) join series s on s.id = new.series_id;
    return null;
end $$;
create trigger files_carded after update of card_id on files
    for each row when (old.card_id is distinct from new.card_id) execute function count_card();

-- What is there already.
insert into holdings (series_id, card_id, drives, files, bytes)
select f.series_id, f.card_id, coalesce(c.drives, '{}'), count(*), sum(f.size)
from files f left join (
    select file_id, array_agg(distinct drive_id order by drive_id) as drives
    from copies where state = 'verified' group by file_id) c on c.file_id = f.id
group by f.series_id, f.card_id, coalesce(c.drives, '{}');

-- What is no longer verified on a drive, and files without content: few, asked for at the end of every scan.
create index copies_lost on copies (drive_id) where state <> 'verified';
create index files_empty on files (card_id) where size = 0;

-- Which copies a scan has seen is kept by chunk, until it is complete: one row for two thousand files.
alter table scan_chunks add copies uuid[];
update scan_chunks k set copies = (select array_agg(s.copy_id) from scan_seen s where s.scan_id = k.scan_id)
where k.number = 0;
drop table scan_seen;

-- Whether a scan added to what was known of a content: its card, its facts, more types of hash.
alter table scans add extended integer not null default 0;

-- Two million rows change in parts: a tenth of them is too late to look.
alter table copies set (autovacuum_vacuum_scale_factor = 0.05, autovacuum_analyze_scale_factor = 0.02,
    autovacuum_vacuum_insert_scale_factor = 0.05);
alter table files set (autovacuum_vacuum_scale_factor = 0.05, autovacuum_analyze_scale_factor = 0.02,
    autovacuum_vacuum_insert_scale_factor = 0.05);
