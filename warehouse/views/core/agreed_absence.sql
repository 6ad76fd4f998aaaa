-- grain: player_id, began_on, kind. An absence, of a player who agreed to its being kept; without region or onset: not said.
create or replace view agreed_absence as
select
  absence.* exclude (region, onset),
  coalesce(absence.region, 'not said') as region,
  coalesce(absence.onset, 'not said') as onset
from absence
join agreed_player using (player_id);
