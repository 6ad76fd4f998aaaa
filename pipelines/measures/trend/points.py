"""What is said of a series after each session: level, four-week change, how sure, and whether the session was odd."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from pipelines.measures.trend.change import Change, four_week_change, four_weeks_back, last_session_before
from pipelines.measures.trend.filter import FilterPass, Start, filter_pass
from pipelines.measures.trend.grid import TrendGrid
from pipelines.measures.trend.series import SeriesBatch

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

INTERVAL = 0.90
"""Coverage of the intervals that are shown."""

JUMP_AT_LEAST, JUMP_SESSIONS = 0.01, 3
"""Where a jump just before one of the last three sessions is at least so likely, and those since then lie nearer to where it
would have gone than to the level, the intervals reach there."""

JUMP_REACH, JUMP_DOUBT = (1.4, 1.6), (1.0, 1.35)
"""Half of such an interval: so many times the way there, and so many standard errors beyond it; and by how much less the level
is doubted where it is asked whether it has left the normal: where it would have gone is mostly farther from that.

Calibrated: own simulation (tests/benchmarks/detection/makings.py, seeds 2131 to 2136; the doubt on 64 and 65)
"""

_SERIES_AT_ONCE, _STATES_AT_ONCE = 128, 8000
"""So many series side by side, and fewer where more states of sessions than this would be kept: they take 4 kB each."""


@dataclass(frozen=True)
class TrendPoints:
    """P points, each a session of a series. Units are scale units; see :class:`SeriesBatch`.

    Attributes
    ----------
    steps, series : (P,) arrays
        Session and series.
    level, level_sd : (P,) arrays
        Of the true level after the session; where it may just have jumped the interval reaches there.
    level_error : (P,) array
        What is doubted of the level where it is asked whether it has left the normal.
    expected, expected_sd : (P,) arrays
        Of the session's value before it was known; ``inf`` sd at the first session.
    odd : (P,) array
        Probability that the session was odd.
    change_known : (P,) array of bool
        Whether there is a session four weeks earlier; where not, what follows is 0 and must not be shown.
    change, change_sd : (P,) arrays
        Of the level over the last 28 days; the error as :func:`change_width` has it.
    p_up, p_above, p_below : (P,) arrays
        Probabilities that the change is above 0, above the smallest worthwhile change, below minus it.
    """

    steps: Integers
    series: Integers
    level: Floats
    level_sd: Floats
    level_error: Floats
    expected: Floats
    expected_sd: Floats
    odd: Floats
    change_known: NDArray[np.bool_]
    change: Floats
    change_sd: Floats
    p_up: Floats
    p_above: Floats
    p_below: Floats


def interval_factor(coverage: float = INTERVAL) -> float:
    """Standard deviations on either side of the mean that cover so much of a normal distribution, 0 to 1."""
    return float(ndtri(0.5 + coverage / 2.0))


_Z = interval_factor()


def interval_width(correlation: Floats) -> Floats:
    """What the half width of an interval is multiplied by, for the lag-1 autocorrelation of a squad's form.

    Notes
    -----
    ``0.64 + 1.6 r``: the mixture over the grid is too wide when sessions are independent, and sessions that resemble their
    neighbours tell less than their number says. r is the estimate, which lies about half way between none and the true one:
    few sessions tell little, and the noise of shots hides form.

    Calibrated: own simulation (tests/benchmarks, seeds 2111 to 2117); what the intervals then hold is measured in
    tests/benchmarks/test_coverage.py
    """
    return np.asarray(0.64 + 1.6 * np.clip(correlation, 0.0, 0.5))


def change_width(sessions: Floats) -> Floats:
    """What the error of a four-week change is multiplied by, for the sessions of those weeks.

    Notes
    -----
    ``0.74 + 0.018 n``, within .8 and 1: all wanders of the slope count alike before sessions tell, and few sessions tell them
    slowly apart, so that the change of one who comes once a week would be held to be much less sure than it is.

    Calibrated: own simulation (tests/benchmarks, seeds 2111 to 2117)
    Checked: tests/unit/test_trend_filter.py, tests/benchmarks/test_coverage.py
    """
    return np.asarray(np.clip(0.74 + 0.018 * sessions, 0.8, 1.0))


def trend_history(
    batch: SeriesBatch,
    worthwhile: Floats,
    grid: TrendGrid,
    first_step: Integers | None = None,
    start: Start | None = None,
    closing: Integers | None = None,
) -> tuple[TrendPoints, Floats, Floats]:
    """A point for every session, each from what was known by then; and the levels that lead there.

    Parameters
    ----------
    batch : SeriesBatch
        In any order; of series that go on from a state only the sessions after it.
    worthwhile : (N, S) array
        Smallest worthwhile change as known at each session [scale units].
    grid : TrendGrid
    first_step : (S,) array of int, optional
        The first session of each series whose point is asked for: those before it only lead there. Beyond the last: none is.
    start : Start, optional
        States to go on from: the first session that is asked for lies beyond what its point reads, the session of four weeks
        before and three sessions. None: all series begin with their first session.
    closing : (S,) array of int, optional
        Of each series the session whose state is told; negative: none is.

    Returns
    -------
    TrendPoints, (N, S) array, (S, 6, G) array
        Points ordered by series and session; the level after every session of every series; the states that are asked for.

    Notes
    -----
    Each grid point gives a normal distribution; their mixture gives mean, variance and probabilities.

    Source: [DurbinKoopman2012], [Raftery2010]
    Checked: tests/unit/test_trend_filter.py, tests/unit/test_trend_runs.py, tests/benchmarks/test_coverage.py
    """
    nothing = np.zeros_like(batch.lengths)
    first = nothing if first_step is None else first_step
    closing = nothing - 1 if closing is None else closing
    back = last_session_before(batch)
    kept = _first_kept(back, first, batch.lengths)
    kept = np.where(closing >= 0, np.minimum(kept, closing), kept)
    levels, states = np.zeros_like(batch.values), np.zeros((batch.lengths.size, 6, grid.n_points))
    parts = []
    for chosen in _chunks(batch.lengths, kept):
        some = batch.columns(chosen)
        n = some.days.shape[0]
        origin = some.values[0] if start is None else np.where(start.is_known[chosen], start.origin[chosen], some.values[0])
        centred = SeriesBatch(some.days, some.values - origin, some.noise_variance, some.jump_variance, some.lengths)
        done = filter_pass(centred, grid, int(kept[chosen].min()), start and start.of(chosen))
        part = _chunk(centred, worthwhile[:n, chosen], grid, first[chosen], back[:n, chosen], done, origin)
        parts.append(replace(part, series=chosen[part.series]))
        levels[:n, chosen] = done.mean_level + origin
        if (closing[chosen] >= 0).any():
            states[chosen] = done.states_after(closing[chosen])
    names = TrendPoints.__dataclass_fields__
    whole = {name: np.concatenate([getattr(part, name) for part in parts]) for name in names}
    by_series = np.lexsort((whole["steps"], whole["series"]))
    return TrendPoints(**{name: array[by_series] for name, array in whole.items()}), levels, states


def _first_kept(start: Integers, first: Integers, lengths: Integers) -> Integers:
    """The first session of each series whose state is read: by a change, or for a jump just before one of the last sessions."""
    series = np.arange(lengths.size)
    return _first_read(start[np.minimum(first, lengths - 1), series], first)


def first_read(days: Floats) -> int:
    """The first of some sessions that the point of the last of them reads, for its change or for a jump just before it.

    Source: own rule. Checked: tests/unit/test_follow.py
    """
    last = np.array([days.size - 1])
    return int(_first_read(four_weeks_back(days, days[last]), last)[0])


def _first_read(back: Integers, step: Integers) -> Integers:
    """By the session of four weeks before each of some sessions."""
    return np.maximum(np.minimum(back, step - JUMP_SESSIONS), 0)


def _chunks(lengths: Integers, kept: Integers) -> Iterator[Integers]:
    """Series to be filtered side by side, the longest first."""
    order = np.argsort(-lengths, kind="stable")
    begin = 0
    while begin < order.size:
        some = order[begin : begin + _SERIES_AT_ONCE]
        n = max(_STATES_AT_ONCE // max(int(lengths[some[0]] - kept[some].min()), 1), 1)
        yield some[:n]
        begin += min(n, some.size)


def _chunk(
    centred: SeriesBatch,
    worthwhile: Floats,
    grid: TrendGrid,
    first: Integers,
    back: Integers,
    done: FilterPass,
    origin: Floats,
) -> TrendPoints:
    step = np.arange(centred.days.shape[0])[:, None]
    steps, series = np.nonzero((step >= first) & (step < centred.lengths))
    then = back[steps, series]
    change = four_week_change(centred, grid, done, steps, series, then)
    reach = _jump_reach(centred.values, done.mean_level, done)[steps, series]
    return _mixture(reach, done, change, (steps, series, then), worthwhile[steps, series], origin[series])


def _mixture(
    reach: Floats,
    done: FilterPass,
    change: Change,
    where: tuple[Integers, Integers, Integers],
    worthwhile: Floats,
    origin: Floats,
) -> TrendPoints:
    """Points; ``where``: session and series of each, and the session of four weeks before."""
    steps, series, then = where
    at = steps - done.begin, series
    weight = np.exp(done.log_weight[at])
    level, level_sd = _moments(weight, done.level[at], done.level_variance[at])
    mean, sd = _moments(weight, change.mean, change.variance)
    error = _reaching(level_sd, reach, *JUMP_DOUBT)
    level_sd = _reaching(level_sd, reach, *JUMP_REACH)
    sd = np.where(reach > 0, _reaching(sd, reach, *JUMP_REACH), sd * change_width((steps - then).astype(np.float64)))
    root = np.sqrt(change.variance)

    def chance_above(limit: Floats) -> Floats:
        return np.where(change.known, np.einsum("pg,pg->p", weight, ndtr((change.mean - limit[:, None]) / root)), 0.0)

    return TrendPoints(
        steps=steps,
        series=series,
        level=level + origin,
        level_sd=level_sd,
        level_error=error,
        expected=done.expected[steps, series] + origin,
        expected_sd=np.sqrt(done.expected_variance[steps, series]),
        odd=done.odd[steps, series],
        change_known=change.known,
        change=np.where(change.known, mean, 0.0),
        change_sd=np.where(change.known, sd, 0.0),
        p_up=chance_above(np.zeros_like(worthwhile)),
        p_above=chance_above(worthwhile),
        p_below=np.where(change.known, 1.0 - chance_above(-worthwhile), 0.0),
    )


def _reaching(error: Floats, reach: Floats, times: float, errors: float) -> Floats:
    """The error where half of the interval is at least so many times the way to where the level may have jumped, and errors."""
    return np.where(reach > 0, np.maximum(error, (times * reach + errors * error) / _Z), error)


def _jump_reach(values: Floats, level: Floats, done: FilterPass) -> Floats:
    """Distance from the level to where it may have jumped, (N, S); 0 where no jump is likely."""
    target = level + (1.0 - done.jumped) * done.jump_size
    reach = np.zeros_like(level)
    for ago in range(min(JUMP_SESSIONS, level.shape[0])):
        n = level.shape[0] - ago
        since = np.mean([values[k : k + n] for k in range(ago + 1)], axis=0)
        gone, now = target[:n], level[ago:]
        near = (done.jumped[:n] >= JUMP_AT_LEAST) & (np.abs(since - gone) < np.abs(since - now))
        reach[ago:] = np.maximum(reach[ago:], np.where(near, np.abs(gone - now), 0.0))
    return np.asarray(reach)


def _moments(weight: Floats, mean: Floats, variance: Floats) -> tuple[Floats, Floats]:
    centre = np.einsum("pg,pg->p", weight, mean)
    spread = np.einsum("pg,pg->p", weight, variance + (mean - centre[:, None]) ** 2)
    return centre, np.sqrt(spread)
