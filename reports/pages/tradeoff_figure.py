"""The trade-off map of one player on one course: data sets of the chart, its finding, and the months behind it."""

from __future__ import annotations

from functools import cache
from operator import itemgetter
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl
from markupsafe import Markup

from reports.chart_rows import rounded, tuple_rows
from reports.findings.ball import course_phrase, split_sentence
from reports.findings.flags import capital
from reports.tables import Cell, Head, table

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from reports.chart_rows import ChartRows
    from reports.pages.context import PageContext
    from reports.words import Words
    from warehouse.marts import PlayerMarts, Row

MONTHS_SHOWN = 12
MOST_LINES, PIECES = 11, 13
NEAR_MPS, NEAR_DEG = 1.34, 2.0
"""What the map shows around the player's path: 3 mph and 2 degrees on every side."""
BESIDE_MPS, BESIDE_DEG = 0.15, 0.3
"""The least that it shows around where a tried change would lead, so that its mark is never cut."""


Point = tuple[float, float]
"""Club speed in the unit shown, and scatter of direction [deg]."""
_XY: dict[str, Any] = {"speed": pl.Float64, "scatter": pl.Float64}
_WITH_WORDS = _XY | {"words": pl.String}


def shown_steps(steps: Iterable[float]) -> set[float]:
    """Whole strokes only where half strokes would crowd the map, and steps of two where whole ones would."""
    there = set(steps)
    for step in (0.5, 1.0, 2.0, 4.0):
        kept = {one for one in there if rounded(one / step, 6) % 1.0 == 0.0}
        if len(kept) <= MOST_LINES:
            return kept
    return there & {0.0}


def _points(rows: Iterable[Row], factor: float) -> list[Point]:
    return [(rounded(row["club_speed_mps"] * factor, 3), rounded(row["direction_sd_deg"], 3)) for row in rows]


def _lines(rows: Sequence[Row], factor: float) -> dict[float, list[Point]]:
    """By the strokes that it stands for, the points of each line that is shown, by club speed."""
    found: dict[float, list[Point]] = {step: [] for step in sorted(shown_steps(row["step"] for row in rows))}
    for row in rows:
        if row["step"] in found:
            found[row["step"]].append((rounded(row["club_speed_mps"] * factor, 2), rounded(row["direction_sd_deg"], 3)))
    return {step: sorted(points, key=itemgetter(0)) for step, points in found.items()}


def _kind(step: float) -> str:
    return "same" if step == 0.0 else "fewer" if step < 0.0 else "more"


def _ends(near: Mapping[float, list[Point]], words: Words) -> ChartRows:
    """Where each line says how many strokes it stands for: its last point by club speed."""
    said = [words("tradeoff.same") if step == 0.0 else words.number(step, 1 if step % 1 else 0, signed=True) for step in near]
    return tuple_rows([(*points[-1], text) for points, text in zip(near.values(), said, strict=True)], _WITH_WORDS)


def _frame(factor: float, tried: Sequence[Point], path: Sequence[Point]) -> list[Point]:
    """Two corners around the player's path, and around what was tried."""
    corners = []
    for axis, near, beside in ((0, NEAR_MPS * factor, BESIDE_MPS * factor), (1, NEAR_DEG, BESIDE_DEG)):
        around = [(point[axis], near) for point in path] + [(point[axis], beside) for point in tried]
        low, high = min(at - room for at, room in around), max(at + room for at, room in around)
        corners.append((rounded(max(0.0, low), 3), rounded(high, 3)))
    return list(zip(*corners, strict=True))


def _drawn(line: Sequence[Point], frame: Sequence[Point]) -> tuple[np.ndarray, np.ndarray]:
    """The line by straight pieces between its points, from edge to edge as far as it is known."""
    speeds, scatters = zip(*line, strict=True)
    across = np.linspace(frame[0][0], frame[1][0], PIECES)
    known = across[(across >= speeds[0]) & (across <= speeds[-1])]
    return known, np.interp(known, speeds, scatters)


def _near(lines: Mapping[float, list[Point]], frame: Sequence[Point]) -> dict[float, list[Point]]:
    """The part of the lines within the corners; a line that does not pass there is left out."""
    low, high = frame[0][1], frame[1][1]
    found = {}
    for step, line in lines.items():
        speeds, scatters = _drawn(line, frame)
        inside = (scatters >= low) & (scatters <= high)
        if inside.any():
            found[step] = list(zip(speeds[inside].round(3).tolist(), scatters[inside].round(3).tolist(), strict=True))
    return found


def _better(lines: Mapping[float, list[Point]], frame: Sequence[Point]) -> list[Point]:
    """The line of the same strokes from corner to corner, as far as it is known; below it strokes are fewer."""
    same = lines.get(0.0, [])
    if len(same) < 2:
        return []
    speeds, scatters = _drawn(same, frame)
    height = np.clip(scatters, frame[0][1], frame[1][1])
    return list(zip(speeds.round(3).tolist(), height.round(3).tolist(), strict=True))


def _place(row: Mapping[str, Any], factor: float, words: str, *, then: bool) -> list[tuple[Any, ...]]:
    if row["recent_speed_mps"] is None:
        return []
    back = (row["change_speed_mps"], row["change_scatter_deg"]) if then else (0.0, 0.0)
    speeds = (row["recent_speed_mps"] - back[0], row["recent_speed_low_mps"], row["recent_speed_high_mps"])
    scatters = (row["recent_scatter_deg"] - back[1], row["recent_scatter_low_deg"], row["recent_scatter_high_deg"])
    shown = [None if value is None else rounded(value * factor, 3) for value in speeds]
    told = [None if value is None else rounded(value, 3) for value in scatters]
    return [(shown[0], told[0], *shown[1:], *told[1:], words)]


_PLACE = {**dict.fromkeys(("speed", "scatter", "speed_low", "speed_high", "scatter_low", "scatter_high"), pl.Float64),
          "words": pl.String}  # fmt: skip


def _sets(player: PlayerMarts, context: PageContext, row: Row, months: Sequence[Row]) -> dict[str, ChartRows]:
    factor = context.numbers.quantity("speed").factor
    lines = _lines([one for one in player.listed("mart_tradeoff_line") if one["course"] == row["course"]], factor)
    path = _points(months, factor)
    now = _place(row, factor, context.words("tradeoff.now"), then=False)
    then = _place(row, factor, _then_words(row, context), then=True)
    proposed = [one for one in player.listed("mart_tradeoff_proposal") if one["direction_sd_deg"] is not None]
    tried = _points(proposed, factor)
    frame = _frame(factor, tried, [*path, *(one[:2] for one in (*now, *then))])
    near = _near(lines, frame)
    pieces = [(*point, step, _kind(step)) for step, points in near.items() for point in points]
    return {
        "frame": tuple_rows(frame, _XY),
        "better": tuple_rows(_better(lines, frame), _XY),
        "lines": tuple_rows(pieces, _XY | {"step": pl.Float64, "kind": pl.String}),
        "ends": _ends(near, context.words),
        "path": tuple_rows([(*point, one["month_on"]) for point, one in zip(path, months, strict=True)], _XY | {"day": pl.Date}),
        "now": tuple_rows(now, _PLACE),
        "then": tuple_rows(then, _PLACE),
        "proposals": tuple_rows([(*point, one["arm"]) for point, one in zip(tried, proposed, strict=True)], _WITH_WORDS),
    }


def _then_words(row: Mapping[str, Any], context: PageContext) -> str:
    if row["reference_from_on"] is None:
        return ""
    first, last = (context.words.short_month(row[name]) for name in ("reference_from_on", "reference_to_on"))
    return first if first == last else context.words("numbers.interval", low=first, high=last)


def _months_table(months: Sequence[Row], context: PageContext) -> Markup:
    words, numbers = context.words, context.numbers
    heads = [
        Head(words("tradeoff.month"), first=True),
        Head(words("tradeoff.speed"), numbers.unit("speed"), number=True),
        Head(words("tradeoff.scatter"), numbers.unit("angle"), number=True),
        Head(words("tradeoff.strokes_round"), words("tradeoff.interval"), number=True),
        Head(words("tradeoff.drives"), number=True),
    ]
    rows: list[list[str | Cell]] = [
        [
            words.short_month(row["month_on"]),
            numbers.bare("speed", row["club_speed_mps"]),
            numbers.bare("angle", row["direction_sd_deg"]),
            Cell(
                words.number(row["per_round"], 1), note=numbers.interval("strokes", row["per_round_low"], row["per_round_high"])
            ),
            words.number(row["n_shots"], 0),
        ]
        for row in months
    ]
    return table(heads, rows, caption=words("tradeoff.months_table"), kind="stack")


def map_figure(player: PlayerMarts, context: PageContext, row: Row) -> Markup:
    """The map on the course of ``row``, the newest row of ``mart_stroke_month`` on that course; the same for every reader."""
    return player.once(("map", row["course"]), lambda: _map_figure(player, context, row))


def _map_figure(player: PlayerMarts, context: PageContext, row: Row) -> Markup:
    known = [one for one in player.listed("mart_stroke_month") if one["club_speed_mps"] is not None]
    months = [one for one in known if one["course"] == row["course"]][-MONTHS_SHOWN:]
    finding = capital(split_sentence(row, context.numbers))
    phrase = course_phrase(row["course"], context.words)
    drawn = context.figure(
        "tradeoff",
        _sets(player, context, row, months),
        title=capital(context.words("tradeoff.map_title", course=phrase)),
        caption=finding,
        alt=context.words("tradeoff.map_alt", course=phrase, finding=finding),
        table=_months_table(months, context),
    )
    return drawn + _what_if(context.words, context.numbers.unit("speed")) if context.with_scripts else drawn


_TOLD = (
    "at",
    "speed",
    "scatter",
    "same",
    "more",
    "fewer",
    "more_beyond",
    "fewer_beyond",
    "more_0",
    "fewer_0",
    "nothing",
    "cross",
)
"""Texts that the script fills in, as attributes."""


@cache
def _what_if(words: Words, unit: str) -> Markup:
    """The sliders of the map's handle; hidden until the script has found the map's lines."""
    texts = Markup("").join(
        Markup(' data-{}="{}"').format(
            name.replace("_0", "0").replace("_", "-"), words.texts[f"what_if.{name}"].replace("{unit}", unit)
        )
        for name in _TOLD
    )
    sliders = Markup("").join(
        Markup('<label>{}<input type="range" name="{}"></label>').format(text, name)
        for name, text in (("speed", words("what_if.speed_label", unit=unit)), ("scatter", words("what_if.scatter_label")))
    )
    return Markup(
        '<div class="what-if" role="group" aria-label="{0}"{1} hidden><h4>{0}</h4><div class="sliders">{2}</div>'
        '<output aria-live="polite"></output><button type="button">{3}</button><p class="quiet-note limits">{4}</p></div>'
    ).format(words("what_if.title"), texts, sliders, words("what_if.again"), words("what_if.limits"))
