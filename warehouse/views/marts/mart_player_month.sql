-- grain: player_id, club_group, month_on. A month with one group of clubs: normal swing,
-- means weighted by shots, spread pooled over sessions.
create or replace view mart_player_month as
select
  player_id,
  club_group,
  cast(date_trunc('month', on_date) as date) as month_on,
  count(*) as n_sessions,
  cast(sum(n_shots) as bigint) as n_shots,
  sum(club_speed_mps_centre * club_speed_mps_n) / sum(club_speed_mps_n) filter (club_speed_mps_centre is not null)
    as club_speed_mps,
  sum(ball_speed_mps_centre * ball_speed_mps_n) / sum(ball_speed_mps_n) filter (ball_speed_mps_centre is not null)
    as ball_speed_mps,
  sum(carry_m_centre * carry_m_n) / sum(carry_m_n) filter (carry_m_centre is not null) as carry_m,
  sqrt(
    sum((offline_m_n - 1) * offline_m_spread * offline_m_spread)
    / sum(offline_m_n - 1) filter (offline_m_spread is not null)
  ) as lateral_spread_m,
  sqrt(
    sum((carry_m_n - 1) * carry_m_spread * carry_m_spread)
    / sum(carry_m_n - 1) filter (carry_m_spread is not null)
  ) as depth_spread_m
from session_club
where session_kind <> 'speed'
group by player_id, club_group, month_on;
