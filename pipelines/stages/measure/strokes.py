"""Strokes and the trade-off map: driver patterns in; home courses, strokes by month, break-even and the maps' lines out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.strokes.months import strokes_by_month
from pipelines.measures.tradeoff.maps import break_evens, latest_patterns, map_lines
from schemas.core.ball import BREAK_EVEN, HOME_COURSE, STROKE_MONTH, TRADEOFF_LINE
from schemas.course import DEFAULT_COURSES
from warehouse.connection import frame, replace_table, transaction

if TYPE_CHECKING:
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


def measure_strokes(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:
    """Write each player's home course, strokes by month and course, break-even, and the lines of each player's trade-off map."""
    patterns = frame(con, _PATTERNS, [as_of])
    standards = {
        player_id: standard or academy.standard
        for player_id, standard in frame(con, "select player_id, standard from player order by player_id").iter_rows()
    }
    known, courses = patterns["player_id"].unique(), courses_of(academy)
    standards = {player_id: standards.get(player_id, academy.standard) for player_id in known}
    newest = latest_patterns(patterns)
    months = strokes_by_month(patterns, standards, courses, STROKE_MONTH.polars_schema())
    evens = break_evens(newest, standards, courses, BREAK_EVEN.polars_schema())
    lines = map_lines(newest, standards, courses, TRADEOFF_LINE.polars_schema())
    with transaction(con):
        replace_table(con, HOME_COURSE.name, home_courses(con, academy))
        replace_table(con, STROKE_MONTH.name, months)
        replace_table(con, BREAK_EVEN.name, evens)
        replace_table(con, TRADEOFF_LINE.name, lines)
