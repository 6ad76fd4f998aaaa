-- grain: player_id. What the physio needs to know of a player beside flags: age, sides, whether body reports may be kept.
create or replace view mart_physio_player as
select
  player.player_id,
  player.alias,
  player.birth_year,
  player.handed,
  player_side.lead_side,
  player_side.trail_side,
  player_consent.agreed as health_consent,
  availability.state
from player
join player_consent using (player_id)
left join player_side using (player_id)
left join availability using (player_id);
