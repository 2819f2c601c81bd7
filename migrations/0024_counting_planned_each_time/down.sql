alter function count_copies() reset plan_cache_mode;
