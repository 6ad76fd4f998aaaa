-- grain: session_id. On which local day a session was, and how many drives of it landed somewhere; sessions with such a drive alone,
-- and none of speed work, which is swung for speed alone.
-- Charts of a player's newest drives choose sessions first: reading of a few what they show costs half of sorting all drives.
create or replace view landed_session as
select landed.player_id, landed.session_id, session_day.on_date, landed.n_drives
from (
  select player_id, session_id, count(*) as n_drives
  from landed_drive
  group by player_id, session_id
) as landed
join session_day using (session_id)
where session_day.kind <> 'speed';
