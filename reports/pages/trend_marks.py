"""What is known beside a trend: flags from raised to closed, decisions, trials, new devices, phases of the plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

from reports.findings.flags import flag_kind
from reports.findings.trials import title_of
from reports.story import FLAGS
from reports.tables import Head, table

if TYPE_CHECKING:
    from datetime import date

    from markupsafe import Markup

    from reports.pages.context import PageContext
    from warehouse.marts import PlayerMarts

_SPEED_KINDS = ("speed_fall", "speed_rise", "speed_stall", "transfer_loss")
FLAG_KINDS: dict[str, tuple[str, ...]] = {
    "club_speed_mps": _SPEED_KINDS,
    "scatter_side_m": ("scatter_rise", "scatter_fall", "aim_shift", "speed_cost"),
    "scatter_long_m": ("scatter_rise", "scatter_fall"),
    "wild_pct": ("wild_rise",),
}
"""Kinds of flag that are marked on the chart of a metric."""

FLAG_LANE, TRIAL_LANE, PHASE_LANE = 0, 1, 2
SPAN_SCHEMA = {"day": pl.Date, "end": pl.Date, "lane": pl.Int64, "kind": pl.String, "words": pl.String}
MOMENT_SCHEMA = {"day": pl.Date, "lane": pl.Int64, "kind": pl.String, "words": pl.String}

LOAD_KINDS = ("load_jump", "load_flat", "plan_gap", "overuse_pattern", "quiet")
"""Kinds of flag that are marked on a chart of load, as far as its reader may see them."""
ODD = 0.5
"""Probability of an odd session from which it is marked as one."""

Row = dict[str, Any]


@dataclass(frozen=True)
class Marked:
    """What a chart marks: kinds of flag, the group of clubs (empty: any), its first and last day.

    Attributes
    ----------
    kinds : tuple of str
    group : str
    first, last : date
    """

    kinds: tuple[str, ...]
    group: str
    first: date
    last: date


def on_trend(metric: str, group: str, rows: pl.DataFrame) -> Marked:
    """What the chart of a trend marks."""
    return Marked(FLAG_KINDS.get(metric, ()), group, rows["on_date"][0], rows["on_date"][-1])


def _flags(player: PlayerMarts, context: PageContext, marked: Marked) -> list[Row]:
    flags = player.rows(FLAGS[context.audience]).filter(pl.col("kind").is_in(marked.kinds))
    if marked.group:
        flags = flags.filter(pl.col("club_group").is_in([marked.group, ""]))
    return flags.sort("raised_on", "flag_id").to_dicts()


def span_within(day: date, end: date, lane: int, kind: str, words: str, ends: tuple[date, date]) -> Row | None:
    """A span cut to the days of the chart; None outside of them."""
    if end < ends[0] or day > ends[1]:
        return None
    return {"day": max(day, ends[0]), "end": min(end, ends[1]), "lane": lane, "kind": kind, "words": words}


def _first_uses(rows: pl.DataFrame) -> list[Row]:
    """The first session on each device but the first."""
    used = rows.filter(pl.col("device_id").is_not_null(), pl.col("device_id") != "").unique(
        "device_id", keep="first", maintain_order=True
    )
    return used.tail(-1).select("on_date", "device_id").to_dicts()


def spans(player: PlayerMarts, context: PageContext, marked: Marked) -> pl.DataFrame:
    """Flags, trials and phases within the days of a chart: ``day``, ``end``, ``lane``, ``kind``, ``words``."""
    ends = (marked.first, marked.last)
    words = context.words
    found = [
        span_within(row["raised_on"], row["closed_on"] or ends[1], FLAG_LANE, "flag", flag_kind(row["kind"], words), ends)
        for row in _flags(player, context, marked)
    ]
    struck = player.rows("mart_trial_result").filter(pl.col("n_shots") > 0, pl.col("began_on").is_not_null())
    found += [
        span_within(row["began_on"], row["last_on"] or row["began_on"], TRIAL_LANE, "trial", title_of(row, words), ends)
        for row in struck.sort("began_on", "trial_id").iter_rows(named=True)
    ]
    found += [
        span_within(row["began_on"], row["ended_on"], PHASE_LANE, "phase", row["phase"], ends)
        for row in player.rows("mart_phase").sort("began_on").iter_rows(named=True)
    ]
    return pl.DataFrame([row for row in found if row], schema=SPAN_SCHEMA)


def moments(player: PlayerMarts, context: PageContext, marked: Marked, rows: pl.DataFrame) -> pl.DataFrame:
    """Flags raised and closed, decisions, and first uses of a device in ``rows``: ``day``, ``lane``, ``kind``, ``words``."""
    words = context.words
    found: list[Row] = []
    for row in _flags(player, context, marked):
        name = flag_kind(row["kind"], words)
        found.append({"day": row["raised_on"], "lane": FLAG_LANE, "kind": "raised", "words": words("marks.raised", flag=name)})
        if row["closed_on"]:
            found.append(
                {"day": row["closed_on"], "lane": FLAG_LANE, "kind": "closed", "words": words("marks.closed", flag=name)}
            )
        if row["decision"] and row["decided_on"]:
            what = words.either(f"decision.{row['decision'].replace(' ', '_')}", row["decision"])
            told = words("marks.decided", flag=name, what=what)
            found.append({"day": row["decided_on"], "lane": FLAG_LANE, "kind": "decided", "words": told})
    found += [
        {"day": row["on_date"], "lane": TRIAL_LANE, "kind": "device", "words": row["device_id"]} for row in _first_uses(rows)
    ]
    return _moments(found, marked)


def _moments(found: list[Row], marked: Marked) -> pl.DataFrame:
    inside = [row for row in found if marked.first <= row["day"] <= marked.last]
    return pl.DataFrame(inside, schema=MOMENT_SCHEMA).unique(maintain_order=True).sort("day", "lane", "kind", "words")


def odd_sessions(rows: pl.DataFrame, context: PageContext, marked: Marked) -> pl.DataFrame:
    """Days of odd sessions, for charts that do not draw the sessions themselves."""
    days = rows.filter(pl.col("odd") > ODD)["on_date"]
    told = context.words("marks.odd")
    return _moments([{"day": day, "lane": TRIAL_LANE, "kind": "odd", "words": told} for day in days], marked)


def on_load(
    player: PlayerMarts, context: PageContext, days: pl.DataFrame, rows: pl.DataFrame
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Spans and moments of a chart of load: ``days`` are its rows, ``rows`` those of the driver's speed."""
    marked = Marked(LOAD_KINDS, "", days["on_date"][0], days["on_date"][-1])
    at_once = pl.concat([moments(player, context, marked, rows), odd_sessions(rows, context, marked)])
    return spans(player, context, marked), at_once.sort("day", "lane", "kind", "words")


def marks_table(lasting: pl.DataFrame, at_once: pl.DataFrame, context: PageContext) -> str | Markup:
    """What the chart marks, by day, for readers of the numbers; empty where it marks nothing."""
    words = context.words
    told = [
        (row["day"], words("marks.device", device=row["words"]) if row["kind"] == "device" else row["words"])
        for row in at_once.to_dicts()
    ]
    told += [
        (row["day"], words(f"marks.{row['kind']}", name=row["words"], until=words.short_day(row["end"])))
        for row in lasting.filter(pl.col("kind") != "flag").to_dicts()
    ]
    if not told:
        return ""
    heads = [Head(words("chart.day"), first=True), Head(words("marks.what"))]
    return table(
        heads, [[words.short_day(day), text] for day, text in sorted(told)], caption=words("marks.caption"), show_caption=True
    )
