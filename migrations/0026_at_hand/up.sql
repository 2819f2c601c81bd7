-- Which drives are at hand, so that copies on them count: decided in one place.
--
-- A drive that shares its device with another, or may be one with it, is no more there than that one: where the other is
-- missing, or something bad was found on it, its copies don't count either. The bin is no way around that. A retired
-- label says nothing of the device, which may be in use under a new one.
create index drives_one_with on drives (series_id, one_with) where one_with is not null;

create view drives_at_hand as
select d.id, d.series_id, coalesce(d.one_with, d.id) as device, d.place
from drives d
where d.deleted_at is null and d.status in ('fine', 'check_due') and not exists (
    select 1 from drives o
    where o.series_id = d.series_id and o.one_with = d.one_with and o.status in ('missing', 'mismatch')
);

create or replace view card_manifest as
select f.series_id, f.card_id, f.id as file_id, f.name, f.size,
    array(
        select distinct d.device
        from copies c join drives_at_hand d on d.id = c.drive_id
        where c.file_id = f.id and c.state = 'verified'
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
