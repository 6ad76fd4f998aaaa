-- grain: player_id, metric, seasons_back. Where a quantity with driver lay after the last session of a player's newest twelve months
-- (seasons_back 0), of the twelve before (1) and of those before (2), counted back from the newest session with it. Of two series the
-- one that the player's page shows: the main one, else the one with most sessions.
create or replace view mart_season_level as
with sized as (
  select *, count(*) over (partition by player_id, metric, series) as n_of_series
  from mart_trend
  where club_group = 'driver'
),
shown as (
  select *, max(on_date) over (partition by player_id, metric) as newest_on
  from sized
  qualify dense_rank() over (partition by player_id, metric order by series <> '', n_of_series desc, series) = 1
),
dated as (
  select *, date_sub('year', on_date, newest_on) as seasons_back
  from shown
)
select
  player_id,
  metric,
  seasons_back,
  min(on_date) over season as from_on,
  on_date,
  "level",
  level_low,
  level_high,
  count(*) over season as n_sessions,
  cast(sum(n) over season as bigint) as n_shots
from dated
where seasons_back <= 2
window season as (partition by player_id, metric, seasons_back)
qualify row_number() over (partition by player_id, metric, seasons_back order by on_date desc, session_id desc) = 1;
