-- grain: player_id, began_on, kind. An absence without an end, of a player who agreed and is still here, and what was done since.
create or replace view mart_physio_absence as
select
  absence.player_id,
  present_player.alias,
  absence.began_on,
  absence.kind,
  absence.region,
  absence.onset,
  count(distinct session_day.on_date) as n_days_since,
  max(session_day.on_date) as last_session_on
from absence
join agreed_player using (player_id)
join present_player using (player_id)
left join session_day
  on session_day.player_id = absence.player_id
  and session_day.on_date > absence.began_on
  and session_day.kind <> 'rest'
where absence.ended_on is null
group by all;
