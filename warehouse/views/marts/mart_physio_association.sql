-- grain: group_name, player_id, region. Stiffness and earlier load, inside players who agreed, over the squad and over each group.
create or replace view mart_physio_association as
select
  player_id,
  region,
  total,
  low,
  high,
  p_value,
  n_pairs,
  n_players,
  reason,
  group_name
from association
where player_id = '' or player_id in (select player_id from agreed_player);
