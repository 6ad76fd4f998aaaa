-- grain: player_id, began_on. One season phase of one player: planned and done, and the levels on either side of it.
create or replace view mart_phase as
with weeks as (
  select
    *,
    coalesce(phase <> lag(phase) over own or week_starting > lag(week_starting) over own + 21, true) as is_first
  from plan
  where phase is not null and phase <> ''
  window own as (partition by player_id order by week_starting)
),
numbered as (
  select *, sum(cast(is_first as integer)) over (partition by player_id order by week_starting) as phase_no
  from weeks
),
phases as (
  select
    player_id,
    phase_no,
    any_value(phase) as phase,
    min(week_starting) as began_on,
    max(week_starting) + 6 as ended_on,
    count(*) as n_weeks,
    cast(sum(swings_full) as bigint) as planned_full,
    cast(sum(swings_speed) as bigint) as planned_speed,
    sum(minutes) as planned_minutes
  from numbered
  group by player_id, phase_no
),
done as (
  select
    phases.player_id,
    phases.phase_no,
    cast(sum(session_day.swings_full) as bigint) as done_full,
    sum(session_day.duration_min) as done_minutes,
    count(*) filter (session_day.kind <> 'rest') as n_sessions
  from phases
  join session_day on session_day.player_id = phases.player_id and session_day.on_date between phases.began_on and phases.ended_on
  group by phases.player_id, phases.phase_no
),
levels as (
  select player_id, metric, on_date, "level", level_low, level_high
  from trend_point
  where club_group = 'driver' and series = '' and metric in ('club_speed_mps', 'scatter_side_m')
),
before as (
  select
    phases.player_id,
    phases.phase_no,
    levels.metric,
    last(levels."level" order by levels.on_date) as "level",
    last(levels.level_high - levels.level_low order by levels.on_date) / 2 as half_width
  from phases
  join levels on levels.player_id = phases.player_id and levels.on_date < phases.began_on and levels.on_date >= phases.began_on - 60
  group by phases.player_id, phases.phase_no, levels.metric
),
after as (
  select
    phases.player_id,
    phases.phase_no,
    levels.metric,
    count(*) as n_sessions,
    last(levels."level" order by levels.on_date) as "level",
    last(levels.level_high - levels.level_low order by levels.on_date) / 2 as half_width
  from phases
  join levels on levels.player_id = phases.player_id and levels.on_date between phases.began_on and phases.ended_on
  group by phases.player_id, phases.phase_no, levels.metric
),
changes as (
  select
    player_id,
    phase_no,
    after.metric,
    after.n_sessions,
    before."level" as level_before,
    after."level" as level_after,
    after."level" - before."level" as change,
    sqrt(after.half_width * after.half_width + before.half_width * before.half_width) as half_width
  from after
  join before using (player_id, phase_no, metric)
)
select
  phases.player_id,
  phases.phase,
  phases.began_on,
  phases.ended_on,
  phases.n_weeks,
  phases.planned_full,
  phases.planned_speed,
  phases.planned_minutes,
  done.done_full,
  done.done_minutes,
  coalesce(done.n_sessions, 0) as n_sessions,
  coalesce(speed.n_sessions, 0) as n_speed_sessions,
  speed.level_before as speed_before_mps,
  speed.level_after as speed_after_mps,
  speed.change as speed_change_mps,
  speed.change - speed.half_width as speed_change_low_mps,
  speed.change + speed.half_width as speed_change_high_mps,
  scatter.change as scatter_change_m,
  scatter.change - scatter.half_width as scatter_change_low_m,
  scatter.change + scatter.half_width as scatter_change_high_m
from phases
left join done using (player_id, phase_no)
left join changes as speed on speed.player_id = phases.player_id and speed.phase_no = phases.phase_no and speed.metric = 'club_speed_mps'
left join changes as scatter
  on scatter.player_id = phases.player_id and scatter.phase_no = phases.phase_no and scatter.metric = 'scatter_side_m';
