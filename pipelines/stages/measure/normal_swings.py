"""The shots that stand for a player's normal swing, with comparable carry and speed ratio: read by several measures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from warehouse.connection import frame

if TYPE_CHECKING:
    from datetime import date

    import duckdb
    import polars as pl

# Speed sessions are swung for speed alone, and a trial's changed arms are not the player's normal: no pattern to play with.
_NORMAL = """
select
  shot_day.session_id, shot_day.player_id, shot_day.on_date, shot_day.club, shot_day.club_group,
  comparable_shot.method, comparable_shot.carry_m, comparable_shot.offline_m, comparable_shot.direction_deg,
  comparable_shot.run_m, shot_day.club_speed_mps,
  shot_day.ball_speed_mps / shot_day.club_speed_mps as speed_ratio,
  shot_day.ball_speed_mps / shot_day.club_speed_mps / coalesce(ball_factor.speed_factor, 1) as comparable_speed_ratio,
  coalesce(ball_factor.known_on <= ball_factor.month_on, false) as is_factor_known, shot_day.device_id,
  shot_day.launch_deg, shot_day.spin_rpm, shot_day.strike_side_mm, shot_day.strike_height_mm
from shot_day
join comparable_shot using (session_id, shot_no)
left join ball_factor
  on ball_factor.device_id is not distinct from shot_day.device_id
  and ball_factor.ball is not distinct from shot_day.ball
  and ball_factor.month_on = date_trunc('month', shot_day.on_date)
left join trial using (trial_id)
where shot_day.counts
  and shot_day.on_date <= ?
  and shot_day.session_kind <> 'speed'
  and (shot_day.arm is null or trial.normal_arm is null or shot_day.arm = trial.normal_arm)
order by shot_day.player_id, shot_day.on_date, shot_day.session_id, shot_day.shot_no
"""


def normal_swings(con: duckdb.DuckDBPyConnection, as_of: date) -> pl.DataFrame:
    """Counting shots of normal swings up to ``as_of``, in order of player and time."""
    return frame(con, _NORMAL, [as_of])
