"""What is known beside the squad's problems: flags and decisions week by week, trials, suspected devices, phases."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import polars as pl

from reports.chart_rows import listed_rows
from reports.pages.trend_marks import FLAG_LANE, MOMENT_SCHEMA, PHASE_LANE, SPAN_SCHEMA, TRIAL_LANE, Row, span, span_within

if TYPE_CHECKING:
    from datetime import date

    from reports.chart_rows import ChartRows
    from reports.pages.context import PageContext
    from warehouse.marts import Marts

BODY_KINDS = ("body_stiff", "body_fatigue", "problem_report", "overuse_pattern", "answers_fewer")
_DATED = {"raised": "raised_on", "closed": "closed_on", "decided": "decided_on"}


def squad_moments(marts: Marts, context: PageContext, weeks: pl.DataFrame, players: set[str] | None = None) -> ChartRows:
    """How many flags on the body were raised, closed and decided in each week of the chart, at the week's last day.

    ``players``: of these alone; None: of everybody.
    """
    words, flags, ends = context.words, _theirs(marts.rows("mart_flag_physio"), players), weeks["week_ending"].sort()
    about = flags.filter(pl.col("kind").is_in(BODY_KINDS))
    found: list[Row] = []
    for kind, column in _DATED.items():
        days = about[column].drop_nulls()
        for end in ends:
            n = days.filter(days.is_between(end - timedelta(days=6), end)).len()
            if n:
                told = words.count(f"marks.week_{kind}", n)
                found.append({"day": end, "lane": FLAG_LANE, "kind": kind, "words": told})
    return listed_rows(sorted(found, key=lambda row: (row["day"], row["kind"], row["words"])), MOMENT_SCHEMA)


def _theirs(rows: pl.DataFrame, players: set[str] | None) -> pl.DataFrame:
    return rows if players is None else rows.filter(pl.col("player_id").is_in(sorted(players)))


def squad_spans(marts: Marts, context: PageContext, weeks: pl.DataFrame, players: set[str] | None = None) -> ChartRows:
    """Trials (those that overlap as one), devices under suspicion, and the phase that most players were in.

    ``players``: trials and phases of these alone; None: of everybody.
    """
    ends = weeks["week_ending"].sort().to_list()
    first, last = ends[0] - timedelta(days=6), ends[-1]
    devices = marts.rows("mart_flag_physio").filter(pl.col("kind") == "device_shift")
    trials = _theirs(marts.rows("mart_trial_result"), players).filter(pl.col("n_shots") > 0, pl.col("began_on").is_not_null())
    tried = [(row["began_on"], row["last_on"] or row["began_on"]) for row in trials.iter_rows(named=True)]
    suspected = [(row["raised_on"], row["closed_on"] or last) for row in devices.iter_rows(named=True)]
    found = [
        span(day, end, TRIAL_LANE, kind, context.words.count(f"marks.n_{kind}s", n))
        for kind, whole in (("trial", tried), ("flag", suspected))
        for day, end, n in _together(whole)
    ]
    found += [
        span(day, end, PHASE_LANE, "phase", name) for day, end, name in _phases(_theirs(marts.rows("mart_phase"), players), weeks)
    ]
    inside = [row for whole in found if (row := span_within(whole, (first, last)))]
    return listed_rows(sorted(inside, key=lambda row: (row["lane"], row["day"], row["words"])), SPAN_SCHEMA)


def _together(ends: list[tuple[date, date]]) -> list[tuple[date, date, int]]:
    """Spans that overlap as one, with how many they are."""
    found: list[tuple[date, date, int]] = []
    for first, last in sorted(ends):
        if found and first <= found[-1][1]:
            before = found.pop()
            found.append((before[0], max(before[1], last), before[2] + 1))
        else:
            found.append((first, last, 1))
    return found


def _phases(phases: pl.DataFrame, weeks: pl.DataFrame) -> list[tuple[date, date, str]]:
    """The phase that most players were in, week by week, runs of one phase as one span."""
    planned = phases.select("player_id", "phase", "began_on", "ended_on")
    by_week = (
        weeks.select("week_ending")
        .join_where(planned, pl.col("began_on") <= pl.col("week_ending"), pl.col("ended_on") >= pl.col("week_ending"))
        .group_by("week_ending", "phase")
        .len()
        .sort("week_ending", "len", "phase", descending=[False, True, False])
        .unique("week_ending", keep="first", maintain_order=True)
    )
    runs = by_week.with_columns(run=pl.col("phase").rle_id()).group_by("run", maintain_order=True)
    spans = runs.agg(
        pl.col("phase").first(), day=pl.col("week_ending").min() - pl.duration(days=6), end=pl.col("week_ending").max()
    )
    return spans.select("day", "end", "phase").rows()
