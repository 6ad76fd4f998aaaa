-- grain: player_id, week_starting, item. The body map of the last 26 weeks, of players who agreed.
create or replace view mart_physio_body_week as
select
  player_id,
  week_starting,
  item,
  region,
  n_answers,
  mean_answer,
  worst_answer,
  normal,
  n_days_above
from body_week
where player_id in (select player_id from agreed_player)
  and week_starting > (select max(week_starting) from body_week) - 182;
