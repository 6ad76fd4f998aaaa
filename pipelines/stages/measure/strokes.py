"""Strokes and the trade-off map: driver patterns in; home courses, strokes by month, break-even and the maps' lines out."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.device.months import without_devices
from pipelines.measures.strokes.months import strokes_by_month, with_neighbours
from pipelines.measures.tradeoff.maps import break_evens, map_lines, newest_patterns, placed
from pipelines.stages.measure.devices import devices_by_month
from pipelines.stages.stale import Apart, renew
from schemas.core.ball import BREAK_EVEN, HOME_COURSE, STROKE_MONTH, TRADEOFF_LINE
from schemas.course import DEFAULT_COURSES
from warehouse.connection import frame, replace_table, transaction

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    import duckdb

    from schemas.academy import Academy
    from schemas.course import Course

_PATTERNS = "select * from driver_month where month_on <= ? order by player_id, month_on"


def courses_of(academy: Academy) -> tuple[Course, ...]:
    """The two defaults and the academy's own courses."""
    return (*DEFAULT_COURSES, *academy.courses)


def home_courses(con: duckdb.DuckDBPyConnection, academy: Academy) -> pl.DataFrame:
    """The course that counts for each player: the own home course where academy.toml knows it, else the academy's.

    Returns
    -------
    polars.DataFrame
        Rows of ``home_course``.
    """
    known = [course.name for course in courses_of(academy)]
    asked = frame(con, "select player_id, course as asked from player order by player_id")
    course = pl.when(pl.col("asked").is_in(known)).then("asked").otherwise(pl.lit(academy.course))
    return asked.with_columns(course=course).select(HOME_COURSE.names)


def strokes_by_player_month(patterns: pl.DataFrame, academy: Academy) -> Apart:
    """Strokes by course: of a player's month, beside its neighbours."""
    courses = courses_of(academy)
    measure = partial(stroke_rows, courses=courses)
    return Apart(
        "strokes", (STROKE_MONTH,), {"months": with_neighbours(patterns)}, measure, repr(courses), by=("player_id", "month_on")
    )


def stroke_rows(read: Mapping[str, pl.DataFrame], courses: tuple[Course, ...]) -> dict[str, pl.DataFrame]:
    """Rows of ``stroke_month``."""
    months = read["months"]
    return {STROKE_MONTH.name: strokes_by_month(months, _standards(months), courses, STROKE_MONTH.polars_schema())}


def tradeoff_by_player(patterns: pl.DataFrame, academy: Academy) -> Apart:
    """Break-even and the lines of the map: of a player, from where the player is now."""
    courses = courses_of(academy)
    measure = partial(tradeoff_rows, courses=courses)
    return Apart("tradeoff", (BREAK_EVEN, TRADEOFF_LINE), {"newest": newest_patterns(patterns)}, measure, repr(courses))


def tradeoff_rows(read: Mapping[str, pl.DataFrame], courses: tuple[Course, ...]) -> dict[str, pl.DataFrame]:
    """Rows of ``break_even`` and ``tradeoff_line``."""
    standards, players = _standards(read["newest"]), placed(read["newest"])
    return {
        BREAK_EVEN.name: break_evens(players, standards, courses, BREAK_EVEN.polars_schema()),
        TRADEOFF_LINE.name: map_lines(players, standards, courses, TRADEOFF_LINE.polars_schema()),
    }


def _standards(rows: pl.DataFrame) -> dict[str, str]:
    return dict(rows.select("player_id", "standard").iter_rows())


def driver_patterns(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> pl.DataFrame:
    """Driver patterns by month, devices taken off, with the standard whose strokes follow the player's drives."""
    standards = frame(con, "select player_id, standard from player order by player_id")
    read = without_devices(frame(con, _PATTERNS, [as_of]), devices_by_month(con, as_of))
    patterns = read.join(standards, on="player_id", how="left", maintain_order="left")
    return patterns.with_columns(pl.col("standard").fill_null(academy.standard))


def measure_strokes(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:
    """Write each player's home course, strokes by month and course, break-even, and the lines of each player's trade-off map."""
    with transaction(con):
        replace_table(con, HOME_COURSE.name, home_courses(con, academy))
    patterns = driver_patterns(con, academy, as_of)
    renew(con, strokes_by_player_month(patterns, academy))
    renew(con, tradeoff_by_player(patterns, academy))
