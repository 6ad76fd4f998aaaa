-- grain: player_id. The one record of a player from which every page says what it says. It is past when the newest session with
-- driver speeds lies 28 days and more before the last day: what it says of 28 days is then not of the last ones, and now_low and
-- now_high are the ends of the 90 % interval of today, null when it is not past. It is stalled when an open flag says that the
-- rise of driver speed has stopped: every reader is told so alike.
create or replace view mart_story as
with past as (
  select player_id, now_low, now_high
  from mart_trend_past
  where metric = 'club_speed_mps' and club_group = 'driver'
),
stalled as (select distinct player_id from flag where kind = 'speed_stall' and club_group = 'driver' and closed_on is null)
select
  player_id,
  player_story.on_date,
  player_story.on_date <= last_day.on_date - 28 as is_past,
  now_low,
  now_high,
  stalled.player_id is not null as is_stalled,
  "level",
  level_low,
  level_high,
  change_28,
  change_28_low,
  change_28_high,
  p_better,
  p_trivial,
  p_worse,
  worthwhile,
  usual_n,
  "state",
  then_against,
  then_on,
  then_level,
  then_change,
  then_change_low,
  then_change_high,
  then_n_then,
  then_n_now,
  then_lasts,
  strokes_month_on,
  strokes_course,
  strokes_change,
  strokes_change_low,
  strokes_change_high,
  strokes_chance_cost
from player_story
left join past using (player_id)
left join stalled using (player_id)
left join last_day on true;
