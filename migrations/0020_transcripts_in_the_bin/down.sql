delete from transcripts where deleted_at is not null;
delete from saved_searches where deleted_at is not null;
alter table saved_searches drop deleted_at;
alter table transcripts drop deleted_at, drop updated_at, drop version;
