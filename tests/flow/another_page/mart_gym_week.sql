-- grain: player_id, week_starting. Gym sessions of a player in a week.
create or replace view mart_gym_week as
select
  session_day.player_id,
  player.alias,
  cast(date_trunc('week', session_day.on_date) as date) as week_starting,
  count(*) as n_gym
from session_day
join player using (player_id)
where session_day.kind = 'gym'
group by all;
