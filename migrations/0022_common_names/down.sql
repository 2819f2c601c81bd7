alter table names drop files;
