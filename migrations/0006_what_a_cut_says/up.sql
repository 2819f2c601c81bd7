-- What a cut says beyond its pictures: whether an event is heard, whether it is switched off, and the name of the file
-- that it came in. No cut was imported before this.

alter table cuts add column source_name text not null;
alter table cut_events add column sound boolean not null, add column enabled boolean not null;
