-- grain: player_id, club_group, method, reason. How many of a player's carries came about in one way.
create or replace view mart_carry_method as
select
  player_id,
  club_group,
  method,
  reason,
  count(*) as n_shots
from comparable_shot
group by player_id, club_group, method, reason;
