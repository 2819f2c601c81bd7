drop table scan_seen;
alter table scans drop skipped, drop summary;
drop index copies_place;
delete from copies where state = 'changed';
create unique index copies_place on copies (drive_id, path);
alter table files drop folded;
drop index drives_volume;
alter table drives drop volume, drop twin_of, drop known_separate;
