-- grain: player_id, week_on. On how many days of a week something came of a player: sessions, and answers.
-- Whoever does not share reports about the body has no number of days answered, not none.
create or replace view mart_coverage as
with sessions as (
  select
    player_id,
    cast(date_trunc('week', on_date) as date) as week_on,
    count(distinct on_date) filter (kind <> 'rest') as n_session_days
  from session_day
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
  coalesce(n_session_days, 0) as n_session_days,
  case when agreed_player.player_id is not null then coalesce(n_answer_days, 0) end as n_answer_days
from sessions
full join answers using (player_id, week_on)
left join agreed_player using (player_id);
