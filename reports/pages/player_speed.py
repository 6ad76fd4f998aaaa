"""The player's sections on speed: whether it is real, and whether it reaches the ball."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from reports.findings.flags import capital, club_name
from reports.pages.frame import Part
from reports.pages.parts import joined, section
from reports.tables import Head, table

if TYPE_CHECKING:
    from collections.abc import Iterator

    from markupsafe import Markup

    from reports.pages.desk import Desk
    from warehouse.marts import PlayerMarts

FOLLOWED = ("driver", "iron")
"""Groups of clubs that have a chart of their own."""


def _scaled(rows: pl.DataFrame, desk: Desk, quantity: str, columns: list[str]) -> pl.DataFrame:
    how = desk.numbers.quantity(quantity)
    return rows.with_columns((pl.col(name) * how.factor).round(how.digits + 1) for name in columns)


def _sessions(player: PlayerMarts, group: str) -> pl.DataFrame:
    return player.rows("mart_session_club").filter(pl.col("club_group") == group, pl.col("club_speed_mps").is_not_null())


def _months(player: PlayerMarts, group: str) -> pl.DataFrame:
    return player.rows("mart_player_month").filter(pl.col("club_group") == group, pl.col("club_speed_mps").is_not_null())


def _month_table(months: pl.DataFrame, desk: Desk) -> Markup:
    words, numbers = desk.words, desk.numbers
    heads = [
        Head(words("player.month"), first=True),
        Head(words("metric.club_speed_mps"), numbers.unit("speed"), number=True),
        Head(words("metric.ball_speed_mps"), numbers.unit("speed"), number=True),
        Head(words("metric.carry_m"), numbers.unit("carry"), number=True),
        Head(words("player.shots"), number=True),
    ]
    rows = [
        [
            words.short_month(row["month_on"]),
            numbers.bare("speed", row["club_speed_mps"]),
            numbers.bare("speed", row["ball_speed_mps"]),
            numbers.bare("carry", row["carry_m"]),
            words.number(row["n_shots"], 0),
        ]
        for row in months.iter_rows(named=True)
    ]
    return table(heads, rows, caption=words("player.by_month"))


def _speed_figure(player: PlayerMarts, desk: Desk, group: str) -> Markup:
    words, unit = desk.words, desk.numbers.unit("speed")
    sessions, months = _sessions(player, group), _months(player, group)
    if sessions.is_empty():
        return joined([])
    rows = _scaled(sessions, desk, "speed", ["club_speed_mps"]).select(
        pl.col("on_date").alias("day"),
        pl.col("club_speed_mps").alias("value"),
        pl.lit(value=False).alias("odd"),
        pl.col("n_club_speed").alias("n"),
        pl.lit("").alias("note"),
    )
    level = _scaled(months, desk, "speed", ["club_speed_mps"]).select(
        pl.col("month_on").alias("day"), pl.col("club_speed_mps").alias("level"), low="club_speed_mps", high="club_speed_mps"
    )
    empty = {
        "normal": pl.DataFrame(schema={"day": pl.Date, "low": pl.Float64, "high": pl.Float64}),
        "flags": pl.DataFrame(schema={"day": pl.Date, "words": pl.String}),
        "phases": pl.DataFrame(schema={"day": pl.Date, "words": pl.String}),
    }
    title = capital(f"{words('metric.club_speed_mps')}, {club_name(group, words)}, {unit}")
    return desk.figure(
        "trend",
        {"rows": rows, "level": level, **empty},
        title=title,
        caption="",
        alt=title,
        table=_month_table(months, desk),
        spans=True,
    )


def player_sections(player: PlayerMarts, desk: Desk) -> Iterator[Part]:
    """Sections 20 and 30."""
    figures = [_speed_figure(player, desk, group) for group in FOLLOWED]
    yield Part(20, section(desk.words("player.real"), "", *figures))
