-- What a scan's computer last said of a drive's room, and when. While free_bytes still equals it, it is what was seen
-- then; afterwards a person has typed another number.
alter table drives
    add free_seen bigint check (free_seen >= 0),
    add free_seen_at timestamptz;

-- Picture files of each card by their frame rate, counted at the end of a scan.
create table card_rates (
    card_id uuid not null references cards on delete cascade,
    rate_num integer not null check (rate_num > 0),
    rate_den integer not null check (rate_den > 0),
    files bigint not null,
    primary key (card_id, rate_num, rate_den)
);

insert into card_rates
select card_id, rate_num, rate_den, count(*) from files
where card_id is not null and rate_num > 0 and rate_den > 0
group by card_id, rate_num, rate_den;
