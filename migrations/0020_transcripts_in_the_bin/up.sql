-- Transcripts and kept searches become records like the others: what is taken away goes to the bin and comes back.

alter table transcripts add version integer not null default 1, add updated_at timestamptz, add deleted_at timestamptz;
update transcripts set updated_at = created_at;
alter table transcripts alter version drop default, alter updated_at set not null;
alter table saved_searches add deleted_at timestamptz;
