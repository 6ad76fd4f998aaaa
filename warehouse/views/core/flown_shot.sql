-- grain: session_id, shot_no. A shot whose flight can be modelled: no putt, and no training club.
create or replace view flown_shot as
select *
from recorded_swing
where club_group <> 'training';
