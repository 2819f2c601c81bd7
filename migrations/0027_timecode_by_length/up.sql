-- Which clips hold a frame: clips of about one length at one rate lie together, so that only those are read which begin
-- less than such a length before it, and not half of all that was ever filmed. `db/finding/sql` names the same lengths.
drop index files_timecode;
create index files_timecode on files (series_id, rate_num, rate_den,
    width_bucket(frame_count, '{100,400,1600,6400,25600,102400,409600}'::bigint[]), start_frame)
    include (frame_count, drop_frame, folder, id) where start_frame is not null;
