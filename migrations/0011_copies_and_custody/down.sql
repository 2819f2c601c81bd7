alter table series drop check_months, drop copies_apart, drop main_place, drop roll_restart;
alter table cards drop wiped_although, drop files, drop bytes, drop least_copies;
drop table card_reports, custody_events;
drop function refuse_custody_change();
alter table copies drop check_id;
drop table check_faults, check_chunks, drive_checks;
