drop table issued_cue_sheets, cue_details, cue_sheets;
alter table music drop column parties, drop column share_convention, drop column publisher_note, drop column same_work_id;
