-- grain: player_id, metric, seasons_back. Where a quantity with driver lay after the last session of a player's newest twelve months
-- (seasons_back 0), of the twelve before (1) and of those before (2), counted back from the newest session with it. Of two series the
-- one that the player's page shows: the main one, else the one with most sessions.
create or replace view mart_season_level as
with driver as (
  select * from mart_trend
  where club_group = 'driver'
),
shown as (
  select player_id, metric, series, max(max(on_date)) over (partition by player_id, metric) as newest_on
  from driver
  group by player_id, metric, series
  qualify row_number() over (partition by player_id, metric order by series <> '', count(*) desc, series) = 1
),
dated as (
  select *, date_sub('year', on_date, newest_on) as seasons_back, (on_date, session_id) as place
  from driver
  join shown using (player_id, metric, series)
)
select
  player_id,
  metric,
  seasons_back,
  min(on_date) as from_on,
  max(on_date) as on_date,
  arg_max("level", place) as "level",
  arg_max(level_low, place) as level_low,
  arg_max(level_high, place) as level_high,
  count(*) as n_sessions,
  cast(sum(n) as bigint) as n_shots
from dated
where seasons_back <= 2
group by player_id, metric, seasons_back;
