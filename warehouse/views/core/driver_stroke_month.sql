-- grain: player_id, month_on. What the drives of a month cost on the player's home course, with what is known of their ball.
-- Without a transfer of the same club nothing is known of the ball.
create or replace view driver_stroke_month as
select
  stroke_month.*,
  transfer_month.device_id,
  coalesce(transfer_month.is_factor_known, false) as is_factor_known
from stroke_month
join home_course using (player_id, course)
join driver_month using (player_id, month_on)
left join transfer_month
  on transfer_month.player_id = stroke_month.player_id
  and transfer_month.month_on = stroke_month.month_on
  and transfer_month.club = driver_month.club;
