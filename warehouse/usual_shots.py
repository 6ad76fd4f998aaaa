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
        sessions with eight shots of the club or more), ``n_sessions``. ``side`` is how closely where a ball ends goes with where
        it starts, a correlation.
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
                median(descent_deg) as descent_deg, median(carry_m / nullif(ball_speed_mps, 0)) as reach,
                case when regr_count(offline_m, direction_deg) >= 8 and regr_sxx(offline_m, direction_deg) > 0
                  and regr_syy(offline_m, direction_deg) > 0 then corr(offline_m, direction_deg) end as side
              from shot semi join asked using (player_id)
              group by all
              having count(*) >= 8
            ),
            long as (
              unpivot by_session
              on club_speed_mps, ball_speed_mps, launch_deg, spin_rpm, carry_m, path_deg, face_deg, spin_axis_deg,
                shape, descent_deg, reach, side
              into name quantity value middle
            )
            select player_id, club, quantity, median(middle) as middle, mad(middle) as spread, count(*) as n_sessions
            from long
            group by all
            order by all
            """,
        )


def flown_lately(con: Connection, player_ids: pl.Series, clubs: pl.Series) -> pl.DataFrame:
    """Shots with a whole launch of each player's last sessions with these clubs, and the air in which they flew.

    Returns
    -------
    polars.DataFrame
        At most ten shots of a session and club, at most twenty sessions of a player and club, by session and shot.
    """
    asked = pl.DataFrame({"player_id": player_ids.unique()})
    with registered(con, "asked", asked), registered(con, "asked_club", pl.DataFrame({"club": clubs.drop_nulls().unique()})):
        return frame(
            con,
            """
            with whole as (
              select *
              from shot semi join asked using (player_id) semi join asked_club using (club)
              where ball_speed_mps is not null and launch_deg is not null and spin_rpm is not null and carry_m is not null
              qualify row_number() over (partition by session_id, club order by shot_no) <= 10
            )
            select whole.player_id, session_id, whole.club, device_id, ball, indoors, air_temp_c, air_pressure_hpa,
              humidity_pct, altitude_m, wind_mps, wind_from_deg, ball_speed_mps, launch_deg, direction_deg, spin_rpm,
              spin_axis_deg, carry_m
            from whole join session using (session_id)
            qualify dense_rank() over (partition by whole.player_id, whole.club order by started_at desc, session_id) <= 20
            order by session_id, shot_no
            """,
        )


def session_air(con: Connection, session_ids: pl.Series) -> pl.DataFrame:
    """Device, ball and air of those sessions that are there."""
    with registered(con, "asked", pl.DataFrame({"session_id": session_ids.drop_nulls().unique()})):
        return frame(
            con,
            """
            select session_id, device_id, ball, indoors, air_temp_c, air_pressure_hpa, humidity_pct, altitude_m, wind_mps,
              wind_from_deg
            from session semi join asked using (session_id)
            """,
        )


def same_readings(con: Connection, shots: pl.DataFrame, most: int) -> pl.DataFrame:
    """Shots that are there with the very readings of these: ``session_id`` and the readings.

    Both speeds and carry must have been read; launch, spin and direction are equal too, or missing in both. Readings that more
    than ``most`` sessions have are left out.
    """
    whole = shots.drop_nulls(["club_speed_mps", "ball_speed_mps", "carry_m"]).unique()
    with registered(con, "asked", whole):
        return frame(
            con,
            """
            with met as (
              select distinct session_id, shot.club_speed_mps, shot.ball_speed_mps, shot.carry_m, shot.launch_deg,
                shot.spin_rpm, shot.direction_deg
              from shot semi join asked
                on shot.club_speed_mps = asked.club_speed_mps and shot.ball_speed_mps = asked.ball_speed_mps
                  and shot.carry_m = asked.carry_m and shot.launch_deg is not distinct from asked.launch_deg
                  and shot.spin_rpm is not distinct from asked.spin_rpm
                  and shot.direction_deg is not distinct from asked.direction_deg
            )
            select * from met
            qualify count(*) over (
              partition by club_speed_mps, ball_speed_mps, carry_m, launch_deg, spin_rpm, direction_deg
            ) <= ?
            order by all
            """,
            [most],
        )


def filled_columns(con: Connection, session_ids: pl.Series, columns: tuple[str, ...]) -> pl.DataFrame:
    """How many shots of these sessions have a value in each column.

    Returns
    -------
    polars.DataFrame
        ``session_id``, ``file_id``, ``n`` shots, ``began`` with the first of them, ``columns``.
    """
    counted = ", ".join(f'count("{name}") as "{name}"' for name in columns)
    with registered(con, "asked", pl.DataFrame({"session_id": session_ids.drop_nulls().unique()})):
        return frame(
            con,
            f"""
            select session_id, min(file_id) as file_id, count(*) as n, min(struck_at) as began, {counted}
            from shot semi join asked using (session_id)
            group by session_id
            order by session_id
            """,
        )
