-- grain: player_id. The line of each player on the squad page; days are counted back from the last day with any session.
create or replace view mart_squad as
with last_day as (select max(on_date) as on_date from session_day),
players as (select player_id, alias, left_on, last_session_on from mart_player),
driver as (
  select
    player_id,
    sum(n_club_speed) as n_shots_28,
    sum(club_speed_mps * n_club_speed) / nullif(sum(n_club_speed), 0) as club_speed_28_mps,
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
  driver.club_speed_28_mps,
  coalesce(cast(driver.n_shots_28 as bigint), 0) as n_shots_28,
  driver.lateral_spread_28_m,
  cast(work.swings_7 as bigint) as swings_7,
  work.swings_week,
  coalesce(work.n_days_28, 0) as n_days_28,
  coalesce(answers.n_answers_14, 0) as n_answers_14
from players
left join driver using (player_id)
left join work using (player_id)
left join answers using (player_id);
