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

JUMP_AT_LEAST, JUMP_TIMES, JUMP_SESSIONS = 0.01, 1.43, 3
"""Where a jump just before one of the last three sessions is at least so likely, and so many times as likely as it stays beside a
session that lies just where it was expected, and those since then lie nearer to where it would have gone than to the level, the
intervals reach there. The noisier sessions are, the less does one as expected speak against a jump."""

JUMP_REACH, JUMP_DOUBT = (1.25, 1.6), (1.0, 1.35)
"""Half of such an interval: so many times the way to the session, and so many standard errors beyond it; and by how much less the
level is doubted where it is asked whether it has left the normal, by the way to where it would have gone: mostly farther from it.

Calibrated: own simulation (tests/benchmarks/detection/makings.py, seeds 2131 to 2136 and 2201 to 2204; the doubt on 64 and 65)
"""

BACK_REACH, GAP_REACH = (1.7, 0.3), (1.3, 0.3)
"""Half of the interval of a change, likewise: by how far later sessions have moved the level of four weeks before, for one that
jumped since is not seen by looking back from it; and by the way from there to where it may have jumped before the next session,
for nobody can tell when in a gap.

Calibrated: own simulation (tests/benchmarks/detection: squads_apart.py, seeds 2201 to 2204; makings.py, 2221 to 2228)
"""

GAP_DAYS = 5.0
"""In a gap so long nobody can tell when the level jumped; in a shorter one the next sessions tell whether it did. Own choice
(seeds 3711 to 3788)."""

_MOST = 1.0e4
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
    ``0.65 + 0.016 n``, within .7 and .88: all wanders of the slope count alike before sessions tell, and few sessions tell them
    slowly apart, so that the change of one who comes once a week would be held to be much less sure than it is. Where the level
    of four weeks before may have been another the interval is wider by itself.

    Calibrated: own simulation (tests/benchmarks, seeds 2111 to 2117, 2211 and 2212)
    Checked: tests/unit/test_trend_filter.py, tests/benchmarks/test_coverage.py
    """
    return np.asarray(np.clip(0.65 + 0.016 * sessions, 0.7, 0.88))


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
    reaches = tuple(reach[steps, series] for reach in _jump_reaches(centred.values, done, grid))
    known = centred, done, grid
    return _mixture(reaches, known, change, (steps, series, then), worthwhile[steps, series], origin[series])


def _mixture(
    reaches: tuple[Floats, ...],
    known: tuple[SeriesBatch, FilterPass, TrendGrid],
    change: Change,
    where: tuple[Integers, Integers, Integers],
    worthwhile: Floats,
    origin: Floats,
) -> TrendPoints:
    """Points; ``known``: sessions and what they tell; ``where``: session and series of each, and session of four weeks before."""
    (_, done, _), (steps, series, then) = known, where
    at = steps - done.begin, series
    weight = np.exp(done.log_weight[at])
    level, level_sd = _moments(weight, done.level[at], done.level_variance[at])
    mean, sd = _moments(weight, change.mean, change.variance)
    doubt, reach = reaches
    error = _reaching(level_sd, doubt, *JUMP_DOUBT)
    level_sd = _reaching(level_sd, reach, *JUMP_REACH)
    wide = sd * change_width((steps - then).astype(np.float64))
    wide = np.where(reach > 0, _reaching(sd, reach, *JUMP_REACH), wide)
    for how_far, how in zip(_back_reaches(level - mean, known, where), (BACK_REACH, GAP_REACH), strict=True):
        wide = np.where(how_far > 0, np.maximum(wide, (how[0] * how_far + how[1] * sd) / _Z), wide)
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
        change_sd=np.where(change.known, wide, 0.0),
        p_up=chance_above(np.zeros_like(worthwhile)),
        p_above=chance_above(worthwhile),
        p_below=np.where(change.known, 1.0 - chance_above(-worthwhile), 0.0),
    )


def _reaching(error: Floats, reach: Floats, times: float, errors: float) -> Floats:
    """The error where half of the interval is at least so many times the way to where the level may have jumped, and errors."""
    return np.where(reach > 0, np.maximum(error, (times * reach + errors * error) / _Z), error)


def _jump_reaches(values: Floats, done: FilterPass, grid: TrendGrid) -> tuple[Floats, Floats]:
    """Distance from the level to where it may have jumped, (N, S) each; 0 where no jump is likely.

    The first by its chance alone, and to where the level would have gone; the second where that chance is more than a session as
    expected leaves, and to the session.
    """
    level, target = done.mean_level, _gone(done)
    likely, over = done.jumped >= JUMP_AT_LEAST, 1.0 + np.minimum(done.expected_variance, _MOST) / max(grid.jump_variance, 1e-9)
    suspect = likely & _is_suspect(done, grid)
    doubt, reach = np.zeros((2, *level.shape))
    for ago in range(min(JUMP_SESSIONS, level.shape[0])):
        n = level.shape[0] - ago
        since = np.mean([values[k : k + n] for k in range(ago + 1)], axis=0)
        gone, now = target[:n], level[ago:]
        way, near = np.abs(gone - now), np.abs(since - gone) < np.abs(since - now)
        doubt[ago:] = np.maximum(doubt[ago:], np.where(near & likely[:n], way, 0.0))
        reach[ago:] = np.maximum(reach[ago:], np.where(near & suspect[:n], way * over[:n], 0.0))
    return doubt, reach


def _gone(done: FilterPass) -> Floats:
    """Where the level went with each session if it jumped just before, (N, S)."""
    return done.mean_level + (1.0 - done.jumped) * done.jump_size


def _is_suspect(done: FilterPass, grid: TrendGrid) -> NDArray[np.bool_]:
    """Sessions before which a jump is clearly likelier than a session just as expected leaves it, (N, S)."""
    left = grid.jump_share / np.sqrt(1.0 + grid.jump_variance / done.expected_variance)
    return np.asarray(done.jumped >= np.maximum(JUMP_AT_LEAST, JUMP_TIMES * left))


def _back_reaches(
    before: Floats, known: tuple[SeriesBatch, FilterPass, TrendGrid], where: tuple[Integers, Integers, Integers]
) -> tuple[Floats, Floats]:
    """Distances from the level of four weeks before, as it is seen now, (P,).

    To how it was seen then, and to where it may have jumped before the next session: where the gap is long, or that and the
    sessions after it lie toward there. Where a chart has dated a jump, to those sessions: the filter is free to move there.
    """
    (batch, done, grid), (steps, series, then) = known, where
    is_known, then = then >= 0, np.maximum(then, 0)
    following = np.minimum(then + 1, steps)
    way = _gone(done)[following, series] - before
    last = np.minimum(following + JUMP_SESSIONS - 1, steps)
    told = following + np.arange(JUMP_SESSIONS)[:, None]
    sessions = np.where(told <= last, batch.values[np.minimum(told, last), series], 0.0)
    since = sessions.sum(axis=0) / (last - following + 1) - before
    is_toward = since * way > way**2 / 3.0
    is_long = batch.days[following, series] - batch.days[then, series] >= GAP_DAYS
    is_dated = batch.jump_variance[following, series] > 0.0
    jumped = is_known & ((_is_suspect(done, grid)[following, series] & (is_toward | is_long)) | (is_dated & is_long))
    is_toward |= is_dated
    back = np.where(is_known, np.abs(before - done.mean_level[then, series]), 0.0)
    return back, np.where(jumped, np.maximum(np.abs(way), np.where(is_toward, np.abs(since), 0.0)), 0.0)


def _moments(weight: Floats, mean: Floats, variance: Floats) -> tuple[Floats, Floats]:
    centre = np.einsum("pg,pg->p", weight, mean)
    spread = np.einsum("pg,pg->p", weight, variance + (mean - centre[:, None]) ** 2)
    return centre, np.sqrt(spread)
