-- grain: player_id, club_group, month_on. A month with one group of clubs: normal swing,
-- means weighted by shots, spread within sessions from month_spread.
create or replace view mart_player_month as
select
  normal_session.player_id,
  normal_session.club_group,
  normal_session.month_on,
  count(*) as n_sessions,
  cast(sum(n_shots) as bigint) as n_shots,
  sum(club_speed_mps_centre * club_speed_mps_n) / sum(club_speed_mps_n) filter (club_speed_mps_centre is not null)
    as club_speed_mps,
  sum(ball_speed_mps_centre * ball_speed_mps_n) / sum(ball_speed_mps_n) filter (ball_speed_mps_centre is not null)
    as ball_speed_mps,
  sum(carry_m_centre * carry_m_n) / sum(carry_m_n) filter (carry_m_centre is not null) as carry_m,
  any_value(month_spread.lateral_spread_m) as lateral_spread_m,
  any_value(month_spread.depth_spread_m) as depth_spread_m
from normal_session
left join month_spread using (player_id, club_group, month_on)
group by normal_session.player_id, normal_session.club_group, normal_session.month_on;
