-- For which broadcaster a delivery contact receives (null: nobody said), and for which one a paper was issued (empty: its
-- specification named none).
alter table memberships add column broadcaster text;
alter table issued_papers add column broadcaster text not null default '';
update issued_papers p set broadcaster = s.broadcaster from specifications s
where s.series_id = p.series_id
  and p.specification = concat_ws(', ', nullif(s.name, ''), nullif(s.edition, ''), nullif(s.broadcaster, ''));
