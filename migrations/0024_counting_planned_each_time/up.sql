-- A plan that is kept knows nothing of how many rows a statement wrote: on the first drive of a catalogue it compared
-- each of two thousand copies with each other. Planning anew takes a millisecond.
alter function count_copies() set plan_cache_mode = force_custom_plan;
