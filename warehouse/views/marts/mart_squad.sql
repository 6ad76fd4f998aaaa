-- grain: player_id. The line of each player on the squad page; days are counted back from the last day.
-- Swings are those of the load tables; speed is that of the one record; speed and scatter are those of the normal swing. Answers: null when they are not shared.
create or replace view mart_squad as
with entered as (
  select session_day.player_id, count(distinct session_day.on_date) as n_days_28
  from session_day
  cross join last_day
  where session_day.on_date > last_day.on_date - 28
  group by session_day.player_id
),
worked as (
  select load_day.player_id, load_day.week_swings, load_day.usual_week_swings, load_day.days_known_7
  from load_day
  join last_day using (on_date)
),
answers as (
  select player_id, count(*) as n_answers_14
  from checkin
  cross join last_day
  where checkin.date > last_day.on_date - 14
  group by player_id
)
select
  mart_player.player_id,
  mart_player.alias,
  mart_player.left_on,
  mart_player.has_left,
  mart_player.last_session_on,
  player_story."level" as speed_level_mps,
  player_story.level_low as speed_level_low_mps,
  player_story.level_high as speed_level_high_mps,
  player_story.change_28,
  player_story.change_28_low,
  player_story.change_28_high,
  player_story.p_better,
  player_story.p_trivial,
  player_story.p_worse,
  player_story."state",
  coalesce(recent_spread.n_shots_28, 0) as n_shots_28,
  recent_spread.lateral_spread_28_m,
  recent_spread.lateral_spread_low_m,
  recent_spread.lateral_spread_high_m,
  worked.week_swings,
  worked.usual_week_swings,
  coalesce(worked.days_known_7, 0) as days_known_7,
  coalesce(entered.n_days_28, 0) as n_days_28,
  case when agreed_player.player_id is not null then coalesce(answers.n_answers_14, 0) end as n_answers_14
from mart_player
left join recent_spread using (player_id)
left join player_story using (player_id)
left join worked using (player_id)
left join entered using (player_id)
left join answers using (player_id)
left join agreed_player using (player_id);
