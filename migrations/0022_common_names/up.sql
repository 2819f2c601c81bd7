-- About how many files have a name: whether they are read by it, or folders walked until there are enough of them.
-- Counted after scans (jobs/tidy), so it may be behind; it decides how hits are read, never which.
alter table names add files bigint not null default 0;
update names n set files = f.files
from (select name_id, count(*) as files from files group by name_id) f where f.name_id = n.id;
