drop table issued_papers;
drop table cut_captions;
