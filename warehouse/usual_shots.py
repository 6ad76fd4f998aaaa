"""Where each player's own sessions lie: what a new file of shots is held against."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from warehouse.connection import frame, registered

if TYPE_CHECKING:
    import duckdb

    Connection = duckdb.DuckDBPyConnection


def usual_shots(con: Connection, player_ids: pl.Series) -> pl.DataFrame:
    """Where the middles of each player's sessions lie, by club and quantity.

    Returns
    -------
    polars.DataFrame
        ``player_id``, ``club``, ``quantity``, ``middle`` and ``spread`` (median and its absolute deviation over the medians of
        sessions with eight shots of the club or more), ``n_sessions``.
    """
    with registered(con, "asked", pl.DataFrame({"player_id": player_ids.unique()})):
        return frame(
            con,
            """
            with by_session as (
              select player_id, club, session_id,
                median(club_speed_mps) as club_speed_mps, median(ball_speed_mps) as ball_speed_mps,
                median(launch_deg) as launch_deg, median(spin_rpm) as spin_rpm, median(carry_m) as carry_m,
                median(path_deg) as path_deg, median(face_deg) as face_deg, median(spin_axis_deg) as spin_axis_deg,
                median(carry_m * tan(radians(descent_deg)) / nullif(apex_m, 0)) as shape,
                median(descent_deg) as descent_deg, median(carry_m / nullif(ball_speed_mps, 0)) as reach
              from shot semi join asked using (player_id)
              group by all
              having count(*) >= 8
            ),
            long as (
              unpivot by_session
              on club_speed_mps, ball_speed_mps, launch_deg, spin_rpm, carry_m, path_deg, face_deg, spin_axis_deg,
                shape, descent_deg, reach
              into name quantity value middle
            )
            select player_id, club, quantity, median(middle) as middle, mad(middle) as spread, count(*) as n_sessions
            from long
            group by all
            order by all
            """,
        )
