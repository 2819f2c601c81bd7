alter table issued_papers drop column broadcaster;
alter table memberships drop column broadcaster;
