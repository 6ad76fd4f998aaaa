-- grain: player_id, course. What a gain of speed or of scatter may cost one player on one course, from the newest month.
create or replace view mart_break_even as
select
  player_id,
  course,
  month_on,
  total_m_per_mps,
  speed_gain_mps,
  scatter_price_deg,
  scatter_gain_deg,
  speed_price_mps
from break_even;
