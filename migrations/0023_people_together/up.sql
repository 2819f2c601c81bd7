-- Who is in which files is answered from the index alone.
drop index log_entries_person;
create index log_entries_person on log_entries (person_id, folder, file_id)
    include (series_id, deleted_at, presence, frame_in, frame_out);
