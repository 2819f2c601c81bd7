drop view card_manifest;
