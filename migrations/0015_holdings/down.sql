alter table files reset (autovacuum_vacuum_scale_factor, autovacuum_analyze_scale_factor,
    autovacuum_vacuum_insert_scale_factor);
alter table copies reset (autovacuum_vacuum_scale_factor, autovacuum_analyze_scale_factor,
    autovacuum_vacuum_insert_scale_factor);
alter table scans drop extended;
create table scan_seen (
    scan_id uuid not null references scans on delete cascade,
    copy_id uuid not null,
    primary key (scan_id, copy_id)
);
insert into scan_seen select distinct k.scan_id, c.id from scan_chunks k, unnest(k.copies) as c (id);
alter table scan_chunks drop copies;
drop index files_empty, copies_lost;
drop trigger files_carded on files;
drop trigger files_came on files;
drop trigger copies_went on copies;
drop trigger copies_changed on copies;
drop trigger copies_came on copies;
drop function count_card(), count_files(), count_copies(), drives_of(uuid[]);
drop table holdings;
