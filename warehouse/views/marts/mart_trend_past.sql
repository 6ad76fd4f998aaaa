-- grain: player_id, club_group, metric. Where a level that pages tell may lie by now, of which nothing has come in the 28 days up to the
-- last day; of two series the one that pages show. Each four weeks without a session add the variance of 0.6 smallest worthwhile
-- changes of club speed, of 0.4 of scatter and of 0.5 of the others, to that of the level (tests/benchmarks/test_coverage.py): now_low and
-- now_high are the ends of the 90 % interval of the last day. A share lies within 0 and 100 %; all else is told by its logarithm.
create or replace view mart_trend_past as
with shown as (
  select player_id, club_group, metric, series, max(on_date) as on_date
  from mart_trend
  where metric not in ('aim_deg', 'scatter_long_m')
  group by player_id, club_group, metric, series
  qualify row_number() over (partition by player_id, club_group, metric order by series <> '', count(*) desc, series) = 1
),
past as (
  select shown.*, (last_day.on_date - shown.on_date) // 28 as n_spans
  from shown
  join last_day on shown.on_date <= last_day.on_date - 28
),
newest as (
  select
    *,
    1.6448536 * worthwhile * sqrt(n_spans)
    * case metric when 'club_speed_mps' then 0.6 when 'scatter_side_m' then 0.4 else 0.5 end as reach,
    metric = 'wild_pct' as is_share
  from mart_trend
  join past using (player_id, club_group, metric, series, on_date)
  qualify row_number() over (partition by player_id, club_group, metric order by session_id desc) = 1
)
select
  player_id,
  club_group,
  metric,
  on_date,
  if(
    is_share,
    greatest("level" - sqrt((level_high - "level") ** 2 + reach ** 2), 0.0),
    "level" * exp(-sqrt(ln("level" / level_low) ** 2 + (reach / 100.0) ** 2))
  ) as now_low,
  if(
    is_share,
    least("level" + sqrt((level_high - "level") ** 2 + reach ** 2), 100.0),
    "level" * exp(sqrt(ln(level_high / "level") ** 2 + (reach / 100.0) ** 2))
  ) as now_high
from newest;
