-- grain: session_id, shot_no. A shot of the player's normal swing: the own swing outside speed sessions, which are swung for
-- speed alone and have no pattern to play with.
create or replace view normal_swing as
select *
from own_swing
where session_kind <> 'speed';
