-- grain: player_id, trial_id, arm. Where an arm of a trial would put the player on the trade-off map, from the newest pattern.
create or replace view mart_tradeoff_proposal as
with newest as (
  select
    player_id,
    arg_max(club_speed_mps, month_on) as club_speed_mps,
    arg_max(direction_sd_deg, month_on) as direction_sd_deg
  from pattern_month
  where club_group = 'driver' and carry_m is not null and club_speed_mps is not null
  group by player_id
),
compared as (
  select
    arm.player_id,
    arm.trial_id,
    arm.arm,
    trial_result.question,
    arm.n_shots,
    arm.club_speed_mps - normal.club_speed_mps as change_speed_mps,
    (arm.offline_sd_m / arm.carry_m) / (normal.offline_sd_m / normal.carry_m) as scatter_ratio
  from trial_arm as arm
  join trial_arm as normal on normal.trial_id = arm.trial_id and normal.is_normal
  join trial_result on trial_result.trial_id = arm.trial_id
  where not arm.is_normal and arm.is_compared and trial_result.club = 'driver'
)
select
  compared.player_id,
  compared.trial_id,
  compared.arm,
  compared.question,
  compared.n_shots,
  newest.club_speed_mps + compared.change_speed_mps as club_speed_mps,
  newest.direction_sd_deg * compared.scatter_ratio as direction_sd_deg,
  compared.change_speed_mps,
  compared.scatter_ratio
from compared
join newest using (player_id);
