"""Charts and stalls about a season that is estimated anew each quarter: what is past is then seen with the newest estimate."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.shift.run import ChartRun, Shift, chart_run
from pipelines.measures.trend.season import of_season
from pipelines.measures.trend.series import SeriesBatch
from pipelines.measures.trend.stall import Stretch, stall_scores

if TYPE_CHECKING:
    from collections.abc import Sequence

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
    mine = [np.flatnonzero(((block == number) & asked).any(axis=0)) for number in numbers]
    of, knew = np.concatenate(mine), np.repeat(numbers, [series.size for series in mine])
    known = (there[:, of] & (block[:, of] <= knew)).sum(axis=0)
    anew = set(zip(of.tolist(), knew.tolist(), strict=True))
    shifts = [one for one in found if (one.series, int(block[one.signal_step, one.series])) not in anew]
    whole: dict[str, NDArray[np.generic]] = {}
    order = np.argsort(-known, kind="stable")
    for at in range(0, order.size, _CHARTS_AT_ONCE):
        some = order[at : at + _CHARTS_AT_ONCE]
        chosen, length = of[some], known[some]
        run = _drawn(batch, variance, grown, season, chosen, knew[some], length)
        told = (np.arange(length[0])[:, None] < length) & (block[: length[0], chosen] == knew[some])
        step, column = np.nonzero(told)
        for name in (one.name for one in fields(ChartRun) if one.name != "shifts"):
            array = getattr(run, name)
            whole.setdefault(name, np.zeros(batch.days.shape, dtype=array.dtype))[step, chosen[column]] = array[step, column]
        own = (shift for shift in run.shifts if told[shift.signal_step, shift.series])
        shifts.extend(replace(shift, series=int(chosen[shift.series])) for shift in own)
    return ChartRun(**whole, shifts=tuple(sorted(shifts, key=lambda one: (one.signal_step, one.series))))  # type: ignore[arg-type] # one array a field


_CHARTS_AT_ONCE = 512
"""Charts of several estimates are drawn side by side, those of like length together: a step takes as long for few as for many."""


def _drawn(
    batch: SeriesBatch,
    variance: Floats,
    grown: tuple[Floats, Floats],
    season: tuple[Floats, Floats],
    series: Integers,
    number: Integers,
    length: Integers,
) -> ChartRun:
    """Charts of so many sessions of some series, each with the course as the estimate of that number knew it."""
    longest = int(length.max())
    days, values, noise, jumps = (
        array[:longest, series] for array in (batch.days, batch.values, batch.noise_variance, batch.jump_variance)
    )
    part = SeriesBatch(days, values, noise, jumps, length)
    now = season[0][length - 1, series], season[1][length - 1, series]
    growth = np.where(number > 0, grown[1][:longest, series], grown[0][:longest, series])
    return chart_run(part, variance[:longest, series], expected=growth + of_season(now, part.days))


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
    scores, asked, stretches = np.stack([np.full(days.size, -np.inf), np.full(days.size, np.nan)]), [], []
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
        scores[:, told] = found
    return scores
