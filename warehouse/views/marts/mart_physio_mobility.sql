-- grain: player_id, test, side, date. Mobility screens and their changes, of players who agreed.
create or replace view mart_physio_mobility as
select
  player_id,
  date,
  test,
  side,
  value_deg,
  since_first_deg,
  since_last_deg,
  detectable_deg,
  is_published,
  verdict
from mobility_change
where player_id in (select player_id from agreed_player);
