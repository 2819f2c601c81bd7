drop index log_entries_person;
create index log_entries_person on log_entries (person_id, folder, file_id);
