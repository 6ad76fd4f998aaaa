-- grain: session_id, shot_no. A drive of the normal swing with its number among all balls of its session, warm-up counted: sessions
-- that are for the swing as it is. Not of it: changed arms of a declared trial. Player, day and kind are one for a session: named where
-- balls are numbered, they let the database leave out others before it does so.
create or replace view driver_ball as
select
  numbered.player_id,
  numbered.session_id,
  numbered.shot_no,
  numbered.on_date,
  cast(date_trunc('month', numbered.on_date) as date) as month_on,
  numbered.ball_no,
  numbered.counts,
  numbered.club_speed_mps
from (
  select
    shot_day.*,
    row_number() over (partition by shot_day.session_id, shot_day.player_id, shot_day.on_date, shot_day.session_kind order by shot_day.struck_at, shot_day.shot_no) as ball_no
  from shot_day
) as numbered
left join trial using (trial_id)
where numbered.club = 'driver'
  and numbered.session_kind in ('range', 'test', 'trial')
  and numbered.club_speed_mps is not null
  and coalesce(numbered.arm = trial.normal_arm, true);
