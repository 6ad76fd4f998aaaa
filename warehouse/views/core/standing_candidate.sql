-- grain: player_id, kind, region, on_date, metric, club_group, device_id. A night on which a rule opens, or goes on to hold.
create or replace view standing_candidate as
select player_id, kind, region, on_date, metric, club_group, device_id, strength
from flag_candidate
where opens or holds;
