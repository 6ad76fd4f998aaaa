-- grain: player_id, region, began_on. Cases of the weekly form, of players who agreed.
create or replace view mart_physio_problem_case as
select
  player_id,
  region,
  began_on,
  last_on,
  n_weeks,
  cumulative_score,
  worst_score,
  ever_substantial,
  onset
from problem_case
where player_id in (select player_id from agreed_player);
