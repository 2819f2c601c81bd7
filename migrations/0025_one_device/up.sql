-- Folders of one device under two drive labels are one copy: what hits the device hits both.

-- What names the device that the scanned folder lies on, as `domain::manifest::ScanStart` tells it. Emptied when a later
-- scan of the same folder of the drive shows that it lies on another device.
alter table scans add devices text[] not null default '{}';
update scans s set devices = array[d.volume] from drives d where d.id = s.drive_id and d.volume <> '';
create index scans_devices on scans (series_id) where devices <> '{}';

-- Drives that share a device, or may be one (`twin_of`), have one and the same id here; none for a drive by itself. It
-- is the id of one of them, whether that is still there or not, so it is no reference.
alter table drives add one_with uuid;
update drives set one_with = twin_of where twin_of is not null;

create or replace view card_manifest as
select f.series_id, f.card_id, f.id as file_id, f.name, f.size,
    array(
        select distinct coalesce(d.one_with, d.id)
        from copies c join drives d on d.id = c.drive_id
        where c.file_id = f.id and c.state = 'verified' and d.deleted_at is null
            and d.status in ('fine', 'check_due')
    ) as devices
from files f
where f.card_id is not null and not (
    exists (select 1 from copies c where c.file_id = f.id)
    and not exists (
        select 1 from copies c
        where c.file_id = f.id and (c.state <> 'changed' or not exists (
            select 1 from copies o join files older on older.id = o.file_id
            where o.drive_id = c.drive_id and o.path = c.path and o.state = 'verified'
                and older.created_at < f.created_at))
    )
);
