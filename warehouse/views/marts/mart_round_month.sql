-- grain: player_id, month_on. What one player's score cards of one month say, per 18 holes.
create or replace view mart_round_month as
select
  player_id,
  month_on,
  n_rounds,
  n_holes,
  score,
  score_low,
  score_high,
  n_tee_shots,
  fairway_share,
  fairway_low,
  fairway_high,
  penalties,
  penalties_low,
  penalties_high
from round_month;
