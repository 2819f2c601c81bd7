drop table sealed_notes;
drop table approvals;
drop table showings;
alter table log_entries drop column voice_changed;
alter table music drop column composition_territories;
alter table assets drop column basis_territories, drop column basis_details, drop column contents;
alter table people drop column also_needed;
delete from releases where kind in ('team', 'league');
alter table releases drop constraint releases_kind_check;
alter table releases add constraint releases_kind_check check (kind in
    ('appearance', 'minor', 'location', 'materials', 'artwork', 'crowd_notice', 'crew', 'school'));
alter table releases drop column details;
alter table licences drop column terms;
alter table specifications drop column runs_needed, drop column for_promotion, drop column version_name;
drop table territory_groups;
