-- grain: player_id, week_ending, region. Weekly forms of the last 26 weeks, scored, of players who agreed.
create or replace view mart_physio_problem_week as
select
  player_id,
  week_ending,
  region,
  score,
  is_problem,
  is_substantial,
  onset
from problem_week
where player_id in (select player_id from agreed_player)
  and week_ending > (select max(week_ending) from problem_week) - 182;
