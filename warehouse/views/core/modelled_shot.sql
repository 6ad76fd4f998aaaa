-- grain: session_id, shot_no. A shot with its flight.
create or replace view modelled_shot as
select flown_shot.*, shot_flight.* exclude (session_id, shot_no, player_id)
from flown_shot
join shot_flight using (session_id, shot_no);
