-- grain: player_id, trial_id, arm. A changed arm of a driver trial beside that trial's normal arm, and the newest month of drives
-- that has strokes and speed.
create or replace view tried_drive as
with newest as (
  select
    player_id,
    arg_max(club_speed_mps, month_on) as club_speed_mps,
    arg_max(direction_sd_deg, month_on) as direction_sd_deg
  from stroke_month
  where club_speed_mps is not null
  group by player_id
)
select
  arm.player_id,
  arm.trial_id,
  arm.arm,
  trial_result.question,
  arm.n_shots,
  arm.club_speed_mps as arm_speed_mps,
  arm.offline_sd_m as arm_offline_sd_m,
  arm.carry_m as arm_carry_m,
  normal.club_speed_mps as normal_speed_mps,
  normal.offline_sd_m as normal_offline_sd_m,
  normal.carry_m as normal_carry_m,
  newest.club_speed_mps as month_speed_mps,
  newest.direction_sd_deg as month_direction_sd_deg
from trial_arm as arm
join trial_arm as normal on normal.trial_id = arm.trial_id and normal.is_normal
join trial_result on trial_result.trial_id = arm.trial_id
join newest on newest.player_id = arm.player_id
where not arm.is_normal and arm.is_compared and trial_result.club = 'driver';
