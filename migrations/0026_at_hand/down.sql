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
drop view drives_at_hand;
drop index drives_one_with;
