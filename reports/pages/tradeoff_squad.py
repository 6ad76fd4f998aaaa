"""The trade-off map of the squad: data sets of the chart, names beside it with lines to their marks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

from reports.chart_shapes import SQUAD_HEIGHT
from reports.findings.ball import verdict
from reports.pages.tradeoff_figure import shown_steps

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from reports.words import Words

Row = dict[str, Any]

LINE = 15.0
"""Height of a name [px]."""
MOST_NAMES = int(SQUAD_HEIGHT // LINE)
"""Names that fit beside the map below each other."""


@dataclass(frozen=True)
class StrokeLines:
    """The lines of equal strokes of one player on one course: rows of ``mart_tradeoff_line``."""

    player_id: str
    rows: pl.DataFrame


def in_the_middle(rows: Sequence[Row]) -> str:
    """The player whose speed and scatter lie nearest to the middle of the squad, each by how far the squad spreads."""
    placed = pl.DataFrame([{name: row[name] for name in ("player_id", "recent_speed_mps", "recent_scatter_deg")} for row in rows])
    away = pl.lit(0.0)
    for name in ("recent_speed_mps", "recent_scatter_deg"):
        middle, spread = placed[name].median(), placed[name].std() or 1.0
        away = away + ((pl.col(name) - middle) / spread) ** 2
    return str(placed.with_columns(away.alias("away")).sort("away", "player_id")["player_id"][0])


def spread_out(wanted: Sequence[float], apart: float, low: float, high: float) -> list[float]:
    """Places as near to the wanted ones as can be, in the same order, at least ``apart``, between ``low`` and ``high``.

    Parameters
    ----------
    wanted : sequence of float
        From small to large; no more of them than there is room for.
    apart, low, high : float
    """
    placed: list[float] = []
    for place in wanted:
        placed.append(max(place, placed[-1] + apart if placed else low))
    limit = high
    for number in range(len(placed) - 1, -1, -1):
        placed[number] = min(placed[number], limit)
        limit = placed[number] - apart
    return placed


def _drawn(rows: Sequence[Row], names: Mapping[str, str], factor: float) -> pl.DataFrame:
    moves = [
        {
            "of": row["player_id"],
            "speed": row["recent_speed_mps"] * factor,
            "scatter": row["recent_scatter_deg"],
            "speed_from": (row["recent_speed_mps"] - row["change_speed_mps"]) * factor,
            "scatter_from": row["recent_scatter_deg"] - row["change_scatter_deg"],
            "words": names[row["player_id"]],
            "verdict": verdict(row),
            "size": abs(row["change"]),
        }
        for row in rows
    ]
    return pl.DataFrame(moves).with_columns(pl.col(pl.Float64).round(3))


def _corners(drawn: pl.DataFrame) -> pl.DataFrame:
    corners = []
    for name in ("speed", "scatter"):
        both = pl.concat([drawn[name], drawn[f"{name}_from"].alias(name)])
        low, high = float(both.min()), float(both.max())  # type: ignore[arg-type]
        room = 0.04 * (high - low) or 0.5
        corners.append(pl.Series(name, [low - room, high + room]).round(3))
    return pl.DataFrame(corners)


def _named(drawn: pl.DataFrame, corners: pl.DataFrame) -> pl.DataFrame:
    """Names of the players whose strokes have clearly changed, the largest changes where there are too many, with places."""
    clear = drawn.filter(pl.col("verdict") != "open").sort("size", "of", descending=[True, False]).head(MOST_NAMES)
    clear = clear.sort("scatter", "of")
    low, high = corners["scatter"].to_list()
    one = (high - low) / SQUAD_HEIGHT
    places = spread_out(clear["scatter"].to_list(), LINE * one, low + LINE * one / 2, high - LINE * one / 2)
    return clear.select("of", "speed", "scatter", "words").with_columns(pl.Series("place", places, dtype=pl.Float64).round(4))


def _lines(lines: StrokeLines | None, factor: float, corners: pl.DataFrame, words: Words) -> dict[str, pl.DataFrame]:
    """Lines within the corners, and what each says at its left end."""
    none = {"speed": pl.Float64, "scatter": pl.Float64, "step": pl.Float64, "point_no": pl.Int64}
    drawn = pl.DataFrame(schema=none)
    if lines is not None:
        drawn = lines.rows.filter(pl.col("step").is_in(shown_steps(lines.rows["step"]))).select(
            (pl.col("club_speed_mps") * factor).round(2).alias("speed"),
            pl.col("direction_sd_deg").round(3).alias("scatter"),
            "step",
            pl.col("point_no").cast(pl.Int64),
        )
    kept = drawn.filter(pl.all_horizontal(pl.col(name).is_between(*corners[name].to_list()) for name in ("speed", "scatter")))
    kept = kept.filter(pl.len().over("step") > 1)
    ends = kept.sort("step", "speed").group_by("step", maintain_order=True).first().select("speed", "scatter", "step")
    said = [words.number(step, 1 if step % 1 else 0, signed=True) if step else words("tradeoff.same") for step in ends["step"]]
    return {
        "lines": kept.sort("step", "speed").drop("point_no"),
        "ends": ends.select("speed", "scatter").with_columns(pl.Series("words", said, dtype=pl.String)),
    }


def squad_sets(
    rows: Sequence[Row], names: Mapping[str, str], factor: float, words: Words, lines: StrokeLines | None
) -> dict[str, pl.DataFrame]:
    """Data sets of the chart ``tradeoff_squad``.

    Parameters
    ----------
    rows : sequence of dict
        Newest rows of ``mart_stroke_month`` on one course, one a player, with a change.
    names : mapping of player id to alias
    factor : float
        Speed shown for 1 m/s.
    words : Words
    lines : StrokeLines or None
        Drawn behind the moves; None: no lines.
    """
    drawn = _drawn(rows, names, factor)
    corners = _corners(drawn)
    return {
        "frame": corners,
        "moves": drawn.drop("size"),
        "named": _named(drawn, corners),
        **_lines(lines, factor, corners, words),
    }
