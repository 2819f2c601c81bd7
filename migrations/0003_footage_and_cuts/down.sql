drop table log_entries, remembered_matches, cut_events, cuts, scan_chunks, scans, copies, files, cards, drives;
