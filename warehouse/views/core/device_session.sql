-- grain: player_id, club, metric, session_id. Sessions of the trends in months of which, of some quantity, something is taken off a device.
create or replace view device_session as
with month_taken_off as (
  select distinct
    player_id,
    club,
    date_trunc('month', on_date) as month_on
  from trend_point
  where "offset" <> 0
)
select
  trend_point.player_id,
  trend_point.club,
  trend_point.metric,
  trend_point.session_id,
  trend_point.on_date,
  trend_point.device_id,
  trend_point."offset",
  trend_point.n
from trend_point
join month_taken_off
  on month_taken_off.player_id = trend_point.player_id
  and month_taken_off.club = trend_point.club
  and month_taken_off.month_on = date_trunc('month', trend_point.on_date);
