-- grain: player_id, on_date, item. Answers of the last 12 weeks against the own normal, of players who agreed.
create or replace view mart_physio_body_day as
select
  player_id,
  on_date,
  item,
  region,
  answer,
  percentile,
  normal,
  normal_spread,
  n_normal,
  recent,
  n_recent,
  score,
  p_value,
  reason
from body_day
where player_id in (select player_id from agreed_player);
