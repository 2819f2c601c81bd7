alter table releases drop constraint releases_asset_id_fkey;
drop table deliverables, specifications, licences, music, assets, releases, people, shoot_days, places, scenes,
    episodes, documents;
