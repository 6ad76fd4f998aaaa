-- grain: player_id. Load of each player on the last day, and the last four weeks of swings.
create or replace view mart_load_now as
with newest as (
  select * from load_day qualify row_number() over (partition by player_id order by on_date desc) = 1
)
select
  newest.player_id,
  present_player.alias,
  newest.on_date,
  newest.week_swings,
  newest.usual_week_swings,
  newest.week_change_swings,
  newest.week_full_effort,
  newest.usual_week_full_effort,
  newest.week_effort_min,
  newest.usual_week_effort_min,
  newest.month_percentile,
  newest.days_known_7,
  newest.days_known_28,
  newest.days_since_easy,
  newest.days_since_swing_free,
  newest.days_assumed_28
from newest
join present_player using (player_id);
