-- grain: player_id. What the physio needs to know of a player beside flags: age, hand, whether body reports may be kept.
create or replace view mart_physio_player as
select
  player.player_id,
  player.alias,
  player.birth_year,
  player.handed,
  coalesce(player.health_consent, false) as health_consent,
  availability.state
from player
left join availability using (player_id);
