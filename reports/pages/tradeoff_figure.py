"""The trade-off map of one player on one course: data sets of the chart, its finding, and the months behind it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl
from markupsafe import Markup

from reports.findings.ball import course_phrase, split_sentence
from reports.findings.flags import capital
from reports.tables import Head, table

if TYPE_CHECKING:
    from collections.abc import Mapping

    from reports.pages.context import PageContext
    from warehouse.marts import PlayerMarts

MONTHS_SHOWN = 12
MOST_LINES, PIECES = 11, 13
NEAR_MPS, NEAR_DEG = 1.34, 2.0
"""What the map shows around the player's path: 3 mph and 2 degrees on every side."""
BESIDE_MPS, BESIDE_DEG = 0.15, 0.3
"""The least that it shows around where a tried change would lead, so that its mark is never cut."""


def _scaled(rows: pl.DataFrame, factor: float, **columns: str) -> pl.DataFrame:
    """Columns renamed; those that begin with ``speed`` in the unit shown."""
    return rows.select(
        (pl.col(old) * factor if new.startswith("speed") else pl.col(old)).round(3).alias(new) for new, old in columns.items()
    )


def thinned(lines: pl.DataFrame) -> pl.DataFrame:
    """Whole strokes only where half strokes would crowd the map, and steps of two where whole ones would."""
    for step in (0.5, 1.0, 2.0, 4.0):
        kept = lines.filter((pl.col("step") / step).round(6).mod(1.0) == 0.0)
        if kept["step"].n_unique() <= MOST_LINES:
            return kept
    return lines.filter(pl.col("step") == 0.0)


def _kind() -> pl.Expr:
    return (
        pl.when(pl.col("step") == 0.0)
        .then(pl.lit("same"))
        .when(pl.col("step") < 0.0)
        .then(pl.lit("fewer"))
        .otherwise(pl.lit("more"))
    )


def _ends(lines: pl.DataFrame, context: PageContext) -> pl.DataFrame:
    """Where each line says how many strokes it stands for: its last point by club speed."""
    last = lines.sort("step", "speed").group_by("step", maintain_order=True).last()
    texts = [
        context.words("tradeoff.same") if step == 0.0 else context.words.number(step, 1 if step % 1 else 0, signed=True)
        for step in last["step"]
    ]
    return last.select("speed", "scatter").with_columns(pl.Series("words", texts, dtype=pl.String))


def _frame(factor: float, proposals: pl.DataFrame, *sets: pl.DataFrame) -> pl.DataFrame:
    """Two corners around the player's path, and around what was tried."""
    whole = pl.concat([rows.select("speed", "scatter") for rows in sets])
    corners = []
    for name, near, beside in (("speed", NEAR_MPS * factor, BESIDE_MPS * factor), ("scatter", NEAR_DEG, BESIDE_DEG)):
        ends = pl.concat([whole[name] - near, whole[name] + near, proposals[name] - beside, proposals[name] + beside])
        corners.append(pl.Series(name, [max(0.0, float(ends.min())), ends.max()]).round(3))  # type: ignore[arg-type]
    return pl.DataFrame(corners)


def _near(lines: pl.DataFrame, frame: pl.DataFrame) -> pl.DataFrame:
    """The part of the lines within the corners, each drawn anew from edge to edge by straight pieces between its points."""
    across, (low, high) = np.linspace(frame["speed"][0], frame["speed"][1], PIECES), frame["scatter"].to_list()
    drawn = []
    for (step, kind), line in lines.sort("speed").group_by("step", "kind", maintain_order=True):
        known = across[(across >= line["speed"].min()) & (across <= line["speed"].max())]
        piece = pl.DataFrame({"speed": known, "scatter": np.interp(known, line["speed"], line["scatter"])})
        drawn.append(piece.with_columns(step=pl.lit(step, dtype=pl.Float64), kind=pl.lit(kind)))
    whole = pl.concat([lines.clear().select("speed", "scatter", "step", "kind"), *drawn])
    return (
        whole.filter(pl.col("scatter").is_between(low, high))
        .with_columns(pl.col("speed", "scatter").round(3))
        .sort("step", "speed")
    )


def _better(lines: pl.DataFrame, frame: pl.DataFrame) -> pl.DataFrame:
    """The line of the same strokes from corner to corner, as far as it is known; below it strokes are fewer."""
    same = lines.filter(pl.col("step") == 0.0).sort("speed")
    if same.height < 2:
        return pl.DataFrame(schema={"speed": pl.Float64, "scatter": pl.Float64})
    across = np.linspace(frame["speed"][0], frame["speed"][1], PIECES)
    known = across[(across >= same["speed"].min()) & (across <= same["speed"].max())]
    height = np.clip(np.interp(known, same["speed"], same["scatter"]), *frame["scatter"].to_list())
    return pl.DataFrame({"speed": known, "scatter": height}).with_columns(pl.all().round(3))


def _place(row: Mapping[str, Any], factor: float, words: str, *, then: bool) -> pl.DataFrame:
    if row["recent_speed_mps"] is None:
        return pl.DataFrame(schema=_PLACE)
    back = (row["change_speed_mps"], row["change_scatter_deg"]) if then else (0.0, 0.0)
    low, high = row["recent_speed_low_mps"], row["recent_speed_high_mps"]
    values = {
        "speed": (row["recent_speed_mps"] - back[0]) * factor,
        "scatter": row["recent_scatter_deg"] - back[1],
        "speed_low": None if low is None else low * factor,
        "speed_high": None if high is None else high * factor,
        "scatter_low": row["recent_scatter_low_deg"],
        "scatter_high": row["recent_scatter_high_deg"],
        "words": words,
    }
    return pl.DataFrame([values], schema=_PLACE).with_columns(pl.col(pl.Float64).round(3))


_PLACE = {
    **dict.fromkeys(("speed", "scatter", "speed_low", "speed_high", "scatter_low", "scatter_high"), pl.Float64),
    "words": pl.String,
}


def _proposals(player: PlayerMarts, factor: float) -> pl.DataFrame:
    rows = player.rows("mart_tradeoff_proposal").filter(pl.col("direction_sd_deg").is_not_null())
    return _scaled(rows, factor, speed="club_speed_mps", scatter="direction_sd_deg").with_columns(rows["arm"].alias("words"))


def _sets(player: PlayerMarts, context: PageContext, row: Mapping[str, Any], months: pl.DataFrame) -> dict[str, pl.DataFrame]:
    factor = context.numbers.quantity("speed").factor
    chosen = player.rows("mart_tradeoff_line").filter(pl.col("course") == row["course"])
    thin = thinned(chosen).with_columns(_kind().alias("kind"))
    lines = thin.select(
        (pl.col("club_speed_mps") * factor).round(2).alias("speed"),
        pl.col("direction_sd_deg").round(3).alias("scatter"),
        "step",
        "kind",
    )
    path = _scaled(months, factor, speed="club_speed_mps", scatter="direction_sd_deg").with_columns(
        months["month_on"].alias("day")
    )
    place = _place(row, factor, context.words("tradeoff.now"), then=False)
    then = _place(row, factor, _then_words(row, context), then=True)
    proposals = _proposals(player, factor)
    frame = _frame(factor, proposals, path, place, then)
    near = _near(lines, frame)
    return {
        "frame": frame,
        "better": _better(lines, frame),
        "lines": near,
        "ends": _ends(near, context),
        "path": path,
        "now": place,
        "then": then,
        "proposals": proposals,
    }


def _then_words(row: Mapping[str, Any], context: PageContext) -> str:
    if row["reference_from_on"] is None:
        return ""
    first, last = (context.words.short_month(row[name]) for name in ("reference_from_on", "reference_to_on"))
    return first if first == last else context.words("numbers.interval", low=first, high=last)


def _months_table(months: pl.DataFrame, context: PageContext) -> Markup:
    words, numbers = context.words, context.numbers
    heads = [
        Head(words("tradeoff.month"), first=True),
        Head(words("tradeoff.speed"), numbers.unit("speed"), number=True),
        Head(words("tradeoff.scatter"), numbers.unit("angle"), number=True),
        Head(words("tradeoff.strokes_round"), number=True),
        Head(words("tradeoff.interval"), number=True),
        Head(words("tradeoff.drives"), number=True),
    ]
    rows = [
        [
            words.short_month(row["month_on"]),
            numbers.bare("speed", row["club_speed_mps"]),
            numbers.bare("angle", row["direction_sd_deg"]),
            words.number(row["per_round"], 1),
            words("numbers.interval", low=words.number(row["per_round_low"], 1), high=words.number(row["per_round_high"], 1)),
            words.number(row["n_shots"], 0),
        ]
        for row in months.iter_rows(named=True)
    ]
    return table(heads, rows, caption=words("tradeoff.months_table"))


def map_figure(player: PlayerMarts, context: PageContext, row: Mapping[str, Any]) -> Markup:
    """The map on the course of ``row``, the newest row of ``mart_stroke_month`` on that course; the same for every reader."""
    return player.once(("map", row["course"]), lambda: _map_figure(player, context, row))


def _map_figure(player: PlayerMarts, context: PageContext, row: Mapping[str, Any]) -> Markup:
    months = player.rows("mart_stroke_month").filter(pl.col("course") == row["course"], pl.col("club_speed_mps").is_not_null())
    months = months.tail(MONTHS_SHOWN)
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
    return drawn + _what_if(context) if context.with_scripts else drawn


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


def _what_if(context: PageContext) -> Markup:
    """The sliders of the map's handle; hidden until the script has found the map's lines."""
    words, unit = context.words, context.numbers.unit("speed")
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
