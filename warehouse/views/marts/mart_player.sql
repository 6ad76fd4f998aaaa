-- grain: player_id. A player with what has come from them. A session that a wrong clock has put beyond the last day is none yet.
create or replace view mart_player as
with sessions as (
  select
    player_id,
    min(session_day.on_date) filter (kind <> 'rest') as first_session_on,
    max(session_day.on_date) filter (kind <> 'rest') as last_session_on,
    count(*) filter (kind <> 'rest') as n_sessions
  from session_day
  left join last_day on session_day.on_date > last_day.on_date
  where last_day.on_date is null
  group by player_id
),
shots as (
  select player_id, count(*) as n_shots, count(coalesce(direction_deg, offline_m)) as n_sided
  from shot
  group by player_id
)
select
  player.player_id,
  player.alias,
  player.birth_year,
  player.sex,
  player.handed,
  player.joined_on,
  player.left_on,
  present_player.player_id is null as has_left,
  player.standard,
  home_course.course as home_course,
  sessions.first_session_on,
  sessions.last_session_on,
  coalesce(sessions.n_sessions, 0) as n_sessions,
  coalesce(shots.n_shots, 0) as n_shots,
  coalesce(shots.n_sided, 0) as n_sided
from player
left join present_player using (player_id)
left join home_course using (player_id)
left join sessions using (player_id)
left join shots using (player_id);
