"""Charts and stalls about a season that is estimated anew each quarter: what is past is then seen with the newest estimate."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.shift.run import ChartRun, Shift, chart_run
from pipelines.measures.trend.season import of_season
from pipelines.measures.trend.stall import Stretch, stall_scores

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pipelines.measures.trend.series import SeriesBatch

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

SEASON: tuple[str, ...] = ("season_sine", "season_cosine")
"""Columns that hold a player's season as known in the quarter of a row."""

STALL_DAYS = 600.0
"""A stall is judged by sessions no older than this."""


def season_blocks(rows: pl.DataFrame) -> Integers:
    """Number of the estimate of the seasons of its metric known at each row: quarters in which nobody's changed share one."""
    own = ["metric", "from_on"]
    quarters = rows.select(*own, known=pl.any_horizontal(pl.col(name) != 0.0 for name in SEASON))
    numbered = (
        quarters.group_by(own)
        .agg(pl.col("known").any())
        .sort(own)
        .with_columns(pl.col("known").cum_sum().over("metric").alias("block"))
    )
    joined = quarters.select(own).join(numbered, on=own, how="left", nulls_equal=True, maintain_order="left")
    return joined["block"].to_numpy().astype(np.int64)


def charted(
    batch: SeriesBatch,
    variance: Floats,
    grown: tuple[Floats, Floats],
    season: tuple[Floats, Floats],
    block: Integers,
    first: Integers | None = None,
    found: Sequence[Shift] = (),
) -> ChartRun:
    """Charts of all series, each session told by the run that knew its quarter's season from the first session on.

    Parameters
    ----------
    batch : SeriesBatch
    variance : (N, S) array
        See :func:`pipelines.measures.shift.run.chart_run`.
    grown : two (N, S) arrays
        Course that is expected apart from the season, as known while there was none and as seen since one is known [as values].
    season : two (N, S) arrays
        Sine and cosine as known at each session [as values].
    block : (N, S) array of int
        Number of the estimate that was known at each session; ascending within a series.
    first : (S,) array of int, optional
        The session of each series from which on it is asked: estimates known before it alone are passed over, where what they
        found is known.
    found : sequence of Shift
        What is known to have been found before ``first``.

    Returns
    -------
    ChartRun
        Arrays are 0 where they are not asked for; shifts are those of all sessions.

    Notes
    -----
    A normal that was learned without a season is no normal for one who is followed with it: where seasons are estimated anew, the
    charts are drawn anew from the first session, with the new estimate for all that is past. Of each run only the sessions count
    whose quarter knew it, so nothing looks ahead.

    Source: own rule
    Checked: tests/unit/test_season_charts.py, tests/property/test_trend_replay.py
    """
    there = np.arange(batch.days.shape[0])[:, None] < batch.lengths
    numbers = np.unique(block[there])
    if numbers.size == 1:
        return chart_run(batch, variance, expected=grown[int(numbers[0] > 0)] + of_season(season, batch.days))
    begin = np.zeros_like(batch.lengths) if first is None else first
    asked = there & (np.arange(batch.days.shape[0])[:, None] >= begin)
    whole: dict[str, NDArray[np.generic]] = {}
    shifts: list[Shift] = []
    for number in numbers:
        mine = there & (block == number)
        chosen = np.flatnonzero((mine & asked).any(axis=0))
        shifts += [one for one in found if mine[one.signal_step, one.series] and one.series not in chosen]
        if not chosen.size:
            continue
        known = (there & (block <= number)).sum(axis=0)
        part = replace(batch, lengths=np.maximum(known, 1)).columns(chosen)
        longest, last = part.days.shape[0], known[chosen] - 1
        now = season[0][last, chosen], season[1][last, chosen]
        growth = grown[int(number > 0)][:longest, chosen]
        run = chart_run(part, variance[:longest, chosen], expected=growth + of_season(now, part.days))
        step, column = np.nonzero(mine[:longest, chosen])
        for name in (one.name for one in fields(ChartRun) if one.name != "shifts"):
            told = getattr(run, name)
            whole.setdefault(name, np.zeros(batch.days.shape, dtype=told.dtype))[step, chosen[column]] = told[step, column]
        own = (replace(shift, series=int(chosen[shift.series])) for shift in run.shifts)
        shifts.extend(shift for shift in own if mine[shift.signal_step, shift.series])
    return ChartRun(**whole, shifts=tuple(sorted(shifts, key=lambda one: (one.signal_step, one.series))))  # type: ignore[arg-type] # one array a field


def stalls(
    days: Floats,
    values: Floats,
    variances: Floats,
    growth: Floats,
    season: tuple[Floats, Floats],
    block: Integers,
    series: Integers,
    first: Integers,
) -> Floats:
    """How clearly a rise came to a stop, after each session of each series, with the season as known in its quarter.

    Parameters
    ----------
    days, values, variances, growth : (n,) arrays
        See :func:`pipelines.measures.trend.stall.stall_scores`; values with the season in them; series after series.
    season : two (n,) arrays
        Sine and cosine as known at each session [scale units].
    block : (n,) array of int
        See :func:`charted`.
    series : (n,) array of int
        Number of the series, ascending.
    first : (S,) array of int
        The session of each series from which on it is asked; before it nothing is told.
    """
    scores, asked, stretches = np.full(days.size, -np.inf), [], []
    begin_of = np.searchsorted(series, np.arange(first.size + 1))
    for begin, end, own_first in zip(begin_of[:-1], begin_of[1:], begin_of[:-1] + first, strict=True):
        borders = np.flatnonzero(np.diff(block[begin:end])) + 1 + begin
        for since, until in zip((begin, *borders), (*borders, end), strict=True):
            if until <= own_first:
                continue
            start = begin + int(np.searchsorted(days[begin:end], days[since] - STALL_DAYS))
            part, told = slice(start, until), slice(max(since, own_first), until)
            level = values[part] - of_season((float(season[0][until - 1]), float(season[1][until - 1])), days[part])
            stretches.append(Stretch(days[part], level, variances[part], growth[part], told.start - start))
            asked.append(told)
    for told, found in zip(asked, stall_scores(stretches), strict=True):
        scores[told] = found
    return scores
