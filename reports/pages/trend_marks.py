"""What is known beside a trend: flags from raised to closed, decisions, trials, new devices, phases of the plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import polars as pl

from reports.chart_rows import listed_rows
from reports.findings.flags import flag_kind
from reports.findings.trials import title_of
from reports.story import FLAGS
from reports.tables import Head, table

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from markupsafe import Markup

    from reports.chart_rows import ChartRows
    from reports.pages.context import PageContext
    from reports.words import Words
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
"""Probability of an odd session above which it is marked as one; ``mart_speed_mark`` goes by it too."""

Row = dict[str, Any]


@dataclass(frozen=True)
class Marked:
    """What a chart marks: kinds of flag, the group of clubs (empty: any), its first and last day.

    Attributes
    ----------
    kinds : tuple of str
    group : str
    first, last : date
    metric : str
        Of the chart; a flag that is told of another metric with a chart of its own is marked there alone.
    """

    kinds: tuple[str, ...]
    group: str
    first: date
    last: date
    metric: str = ""

    def holds(self, flag: Row) -> bool:
        """Whether the chart marks this flag."""
        here = flag["metric"] == self.metric or flag["metric"] not in FLAG_KINDS
        return here and flag["kind"] in self.kinds and (not self.group or flag["club_group"] in {self.group, ""})


def on_trend(metric: str, group: str, rows: pl.DataFrame) -> Marked:
    """What the chart of a trend marks."""
    return Marked(FLAG_KINDS.get(metric, ()), group, rows["on_date"][0], rows["on_date"][-1], metric)


class Flag(NamedTuple):
    """A flag as a chart marks it: the name of its kind, its days, and what was decided."""

    name: str
    raised_on: date
    closed_on: date | None
    decision: str | None
    decided_on: date | None


def marked_flags(player: PlayerMarts, context: PageContext, marked: Marked) -> tuple[Flag, ...]:
    """The flags that a chart marks for this reader: a picture with the same flags is the same for all."""
    rows = [row for row in player.listed(FLAGS[context.audience]) if marked.holds(row)]
    rows.sort(key=lambda row: (row["raised_on"], row["flag_id"]))
    return tuple(
        Flag(flag_kind(row, context.words), *(row[name] for name in ("raised_on", "closed_on", "decision", "decided_on")))
        for row in rows
    )


def span(day: date, end: date, lane: int, kind: str, words: str) -> Row:
    """Something that lasts, whole."""
    return {"day": day, "end": end, "lane": lane, "kind": kind, "words": words}


def span_within(whole: Row, ends: tuple[date, date]) -> Row | None:
    """A span cut to the days of the chart; None outside of them."""
    if whole["end"] < ends[0] or whole["day"] > ends[1]:
        return None
    return whole | {"day": max(whole["day"], ends[0]), "end": min(whole["end"], ends[1])}


def _first_uses(rows: pl.DataFrame) -> list[Row]:
    """The first session on each device but the first."""
    used: dict[str, date] = {}
    for day, device in zip(rows["on_date"].to_list(), rows["device_id"].to_list(), strict=True):
        if device:
            used.setdefault(device, day)
    return [{"day": day, "lane": TRIAL_LANE, "kind": "device", "words": device} for device, day in list(used.items())[1:]]


def _planned(player: PlayerMarts, context: PageContext) -> list[Row]:
    """Trials and phases of the plan, whole: what lasts for every reader alike."""
    tried = player.listed("mart_trial_result")
    struck = [row for row in tried if row["n_shots"] and row["began_on"]]
    phases = player.listed("mart_phase")
    return [
        *(
            span(row["began_on"], row["last_on"] or row["began_on"], TRIAL_LANE, "trial", title_of(row, context.words))
            for row in sorted(struck, key=lambda row: (row["began_on"], row["trial_id"]))
        ),
        *(
            span(row["began_on"], row["ended_on"], PHASE_LANE, "phase", row["phase"])
            for row in sorted(phases, key=lambda row: (row["began_on"], row["ended_on"]))
        ),
    ]


def planned_spans(player: PlayerMarts, context: PageContext) -> list[Row]:
    """Trials and phases of the plan, whole; looked up once a player."""
    return player.once(("planned",), lambda: _planned(player, context))


def spans(player: PlayerMarts, context: PageContext, marked: Marked, flags: Sequence[Flag]) -> ChartRows:
    """Flags, trials and phases within the days of a chart: ``day``, ``end``, ``lane``, ``kind``, ``words``."""
    ends = (marked.first, marked.last)
    told = [span(flag.raised_on, flag.closed_on or ends[1], FLAG_LANE, "flag", flag.name) for flag in flags]
    return listed_rows(
        [row for whole in (*told, *planned_spans(player, context)) if (row := span_within(whole, ends))], SPAN_SCHEMA
    )


def moments(context: PageContext, marked: Marked, flags: Sequence[Flag], rows: pl.DataFrame) -> ChartRows:
    """Flags raised and closed, decisions, and first uses of a device in ``rows``: ``day``, ``lane``, ``kind``, ``words``."""
    told = [moment for flag in flags for moment in _of_flag(flag, context.words)]
    return _moments([*told, *_first_uses(rows)], marked)


def _of_flag(flag: Flag, words: Words) -> list[Row]:
    """When a flag was raised, closed and decided."""
    found = [(flag.raised_on, "raised", words("marks.raised", flag=flag.name))]
    if flag.closed_on:
        found.append((flag.closed_on, "closed", words("marks.closed", flag=flag.name)))
    if flag.decision and flag.decided_on:
        what = words.either(f"decision.{flag.decision.replace(' ', '_')}", flag.decision)
        found.append((flag.decided_on, "decided", words("marks.decided", flag=flag.name, what=what)))
    return [{"day": day, "lane": FLAG_LANE, "kind": kind, "words": said} for day, kind, said in found]


def _moments(found: list[Row], marked: Marked) -> ChartRows:
    inside = {tuple(row[name] for name in MOMENT_SCHEMA) for row in found if marked.first <= row["day"] <= marked.last}
    return listed_rows([dict(zip(MOMENT_SCHEMA, values, strict=True)) for values in sorted(inside)], MOMENT_SCHEMA)


def _of_sessions(player: PlayerMarts, context: PageContext) -> list[Row]:
    """First uses of a device, and odd sessions, for charts that do not draw the sessions themselves."""
    odd = context.words("marks.odd")
    return [
        {"day": row["on_date"], "lane": TRIAL_LANE, "kind": row["kind"], "words": row["device_id"] or odd}
        for row in player.listed("mart_speed_mark")
    ]


def load_flags(player: PlayerMarts, context: PageContext, ends: tuple[date, date]) -> tuple[Flag, ...]:
    """The flags that a chart of load marks for this reader, from its first day to its last."""
    return marked_flags(player, context, Marked(LOAD_KINDS, "", *ends))


def on_load(
    player: PlayerMarts, context: PageContext, ends: tuple[date, date], flags: Sequence[Flag]
) -> tuple[ChartRows, ChartRows]:
    """Spans and moments of a chart of load from its first day to its last."""
    marked = Marked(LOAD_KINDS, "", *ends)
    told = [moment for flag in flags for moment in _of_flag(flag, context.words)]
    return spans(player, context, marked, flags), _moments([*told, *_of_sessions(player, context)], marked)


def _whole(shown: Row, planned: Sequence[Row]) -> Row:
    """What lasts, as it was before it was cut to the days of a chart; itself where that is not known."""
    same = (one for one in planned if all(one[name] == shown[name] for name in ("lane", "kind", "words")))
    return next((one for one in same if one["day"] <= shown["day"] and shown["end"] <= one["end"]), shown)


def marks_table(lasting: ChartRows, at_once: ChartRows, context: PageContext, planned: Sequence[Row] = ()) -> str | Markup:
    """What the chart marks, by day, for readers of the numbers; empty where it marks nothing.

    ``planned``: trials and phases, whole: the table tells their own days, also where the chart begins later or ends before.
    """
    words = context.words
    told = [
        (row["day"], words("marks.device", device=row["words"]) if row["kind"] == "device" else row["words"])
        for row in at_once.rows()
    ]
    told += [
        (row["day"], words(f"marks.{row['kind']}", name=row["words"], until=words.short_day(row["end"])))
        for row in (_whole(shown, planned) for shown in lasting.rows())
        if row["kind"] != "flag"
    ]
    if not told:
        return ""
    heads = [Head(words("chart.day"), first=True), Head(words("marks.what"))]
    return table(
        heads, [[words.short_day(day), text] for day, text in sorted(told)], caption=words("marks.caption"), show_caption=True
    )
