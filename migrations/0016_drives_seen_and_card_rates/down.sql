drop table card_rates;
alter table drives drop free_seen, drop free_seen_at;
