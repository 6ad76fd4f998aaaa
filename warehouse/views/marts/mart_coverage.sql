-- grain: player_id, week_on. What came of a player in a week: sessions, rest days, shots and days answered.
-- Whoever does not share reports about the body has no number of days answered, not none.
create or replace view mart_coverage as
with sessions as (
  select
    player_id,
    cast(date_trunc('week', on_date) as date) as week_on,
    count(*) filter (kind <> 'rest') as n_sessions,
    count(distinct on_date) filter (kind <> 'rest') as n_session_days,
    count(distinct on_date) filter (kind = 'rest') as n_rest_days
  from session_day
  group by player_id, week_on
),
shots as (
  select player_id, cast(date_trunc('week', on_date) as date) as week_on, count(*) as n_shots
  from shot_day
  group by player_id, week_on
),
answers as (
  select player_id, cast(date_trunc('week', date) as date) as week_on, count(*) as n_answer_days
  from checkin
  group by player_id, week_on
)
select
  player_id,
  week_on,
  coalesce(n_sessions, 0) as n_sessions,
  coalesce(n_session_days, 0) as n_session_days,
  coalesce(n_rest_days, 0) as n_rest_days,
  coalesce(n_shots, 0) as n_shots,
  case when agreed_player.player_id is not null then coalesce(n_answer_days, 0) end as n_answer_days
from sessions
full join shots using (player_id, week_on)
full join answers using (player_id, week_on)
left join agreed_player using (player_id);
