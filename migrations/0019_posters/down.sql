drop table file_pictures;
