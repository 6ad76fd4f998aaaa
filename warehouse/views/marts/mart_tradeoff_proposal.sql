-- grain: player_id, trial_id, arm. Where an arm of a trial would put the player on the trade-off map, from the newest pattern.
create or replace view mart_tradeoff_proposal as
select
  player_id,
  trial_id,
  arm,
  question,
  n_shots,
  club_speed_mps,
  direction_sd_deg,
  change_speed_mps,
  scatter_ratio
from tradeoff_proposal;
