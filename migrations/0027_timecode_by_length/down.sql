drop index files_timecode;
create index files_timecode on files (series_id, start_frame, frame_count, folder) where start_frame is not null;
