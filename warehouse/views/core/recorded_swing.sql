-- grain: session_id, shot_no. A swing that a device recorded, whether it counts or not; a putt is no swing.
create or replace view recorded_swing as
select * exclude (file_id, line)
from shot_day
where club_group <> 'putter';
