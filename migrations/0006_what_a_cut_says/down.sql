alter table cut_events drop column enabled, drop column sound;
alter table cuts drop column source_name;
