-- grain: flag_id. The columns of a flag that readers may see, listed once; the marts add who sees which flags.
-- The numbers of a flag are those of the night on which it became an alert, or was raised; now_value is that of today,
-- or of the last day on which it was measured, which is past when 28 days have gone by since.
create or replace view flag_shown as
select
  flag_id,
  player_id,
  alias,
  kind,
  level,
  audience,
  raised_on,
  alerted_on,
  closed_on,
  closed_because,
  metric,
  region,
  club_group,
  device_id,
  "value",
  baseline,
  low,
  high,
  n,
  strength,
  reasons,
  decision,
  decided_on,
  decided_until,
  decision_state,
  decided_role,
  coalesce(alerted_on, raised_on) as said_on,
  flag_now.now_on,
  flag_now.now_value,
  flag_now.now_low,
  flag_now.now_high,
  flag_now.now_share,
  flag_now.now_on <= last_day.on_date - 28 as now_is_past,
  case when flag_told.metric = 'strokes' then home_course.course end as course
from flag_told
left join flag_now using (flag_id)
left join home_course using (player_id)
cross join last_day;
