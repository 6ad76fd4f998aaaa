-- grain: player_id. The line of each player on the squad page; days are counted back from the last day with any session.
create or replace view mart_squad as
with last_day as (select max(on_date) as on_date from session_day),
players as (select player_id, alias, left_on, last_session_on from mart_player),
driver as (
  select
    player_id,
    sum(n_club_speed) as n_shots_28,
    sqrt(
      sum((n_offline - 1) * lateral_spread_m * lateral_spread_m)
      / nullif(sum(n_offline - 1) filter (lateral_spread_m is not null), 0)
    ) as lateral_spread_28_m
  from mart_session_club
  cross join last_day
  where club_group = 'driver' and mart_session_club.on_date > last_day.on_date - 28
  group by player_id
),
work as (
  select
    player_id,
    sum(coalesce(swings_full, 0)) filter (session_day.on_date > last_day.on_date - 7) as swings_7,
    sum(coalesce(swings_full, 0)) / 4.0 as swings_week,
    count(distinct session_day.on_date) as n_days_28
  from session_day
  cross join last_day
  where session_day.on_date > last_day.on_date - 28
  group by player_id
),
trend as (
  select player_id, "level", level_low, level_high, change_28, change_28_low, change_28_high, p_better, p_trivial, p_worse, "state"
  from trend_point
  where metric = 'club_speed_mps' and club_group = 'driver'
  qualify row_number() over (partition by player_id order by on_date desc, series, session_id desc) = 1
),
answers as (
  select player_id, count(*) as n_answers_14, max(date) as last_answer_on
  from checkin
  cross join last_day
  where checkin.date > last_day.on_date - 14
  group by player_id
)
select
  players.player_id,
  players.alias,
  players.left_on,
  players.last_session_on,
  trend."level" as speed_level_mps,
  trend.level_low as speed_level_low_mps,
  trend.level_high as speed_level_high_mps,
  trend.change_28,
  trend.change_28_low,
  trend.change_28_high,
  trend.p_better,
  trend.p_trivial,
  trend.p_worse,
  trend."state",
  coalesce(cast(driver.n_shots_28 as bigint), 0) as n_shots_28,
  driver.lateral_spread_28_m,
  cast(work.swings_7 as bigint) as swings_7,
  work.swings_week,
  coalesce(work.n_days_28, 0) as n_days_28,
  coalesce(answers.n_answers_14, 0) as n_answers_14
from players
left join driver using (player_id)
left join trend using (player_id)
left join work using (player_id)
left join answers using (player_id);
