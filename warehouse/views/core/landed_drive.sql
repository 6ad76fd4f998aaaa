-- grain: session_id, shot_no. A counting driver shot that landed somewhere, as charts of drives show it. The changed arms of a
-- declared trial are shown with the trial alone.
create or replace view landed_drive as
select shot.player_id, shot.session_id, shot.shot_no, shot.club, shot.carry_m, shot.offline_m
from shot
join club using (club)
left join trial using (trial_id)
where club.club_group = 'driver' and coalesce(shot.counts, true) and shot.carry_m is not null and shot.offline_m is not null
  and coalesce(shot.arm = trial.normal_arm, true);
