"""How much likelier the shots of sessions are when the share of wild ones has risen at one of them than when it has not."""

from __future__ import annotations

from functools import cache, partial, reduce

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.onset_ratio import log_mean_ratio
from pipelines.measures.scatter.lost import WEIGHTS
from pipelines.measures.scatter.rings import SHARES, USUAL_REACH

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

QUIET: Floats = np.array([0.20, 0.20, 0.20, 0.15, 0.12, 0.09, 0.04, 0.0])
"""How likely each share is before any shot was seen, of players anywhere, as long as nothing has happened: own choice."""

RISEN_TIMES, RISEN_BY = 2.0, 0.04
"""A share that has risen is at least so many times what it was, and larger by so much; all of those are alike. Own choice."""

USUAL_STEPS: Integers = np.arange(-5, 9)
"""Usual widths that are weighed, in steps from the median of the sessions': a pattern may become 2.6 times as wide."""

_USUAL_SD, _WIDER_SD = 2.5, 5.0
"""Standard deviations of the usual width about that median, and of one that has changed [steps]: 30 and 60 %. Own choice."""

HISTORY_DAYS, RECENT_DAYS, FEWEST_BEFORE, OLDER_EVERY = 365.0, 91.0, 4, 3
"""Sessions of a year are weighed; a rise within three months is news, one before that has lasted, and is looked for at every
third session; four sessions came before it."""

WIDER, OTHER_TIME, LOSES = 0.2, 0.2, 0.1
"""How likely it is, of what else may have happened, that the whole pattern has changed, that the share rose at the other time, or
that ball speed is lost more or less often and the pattern is the same. Own choice."""

RARER = 2.5
"""The chance of a ratio on a night, over the inverse of that ratio: minus its natural logarithm.

Calibrated: own simulation, players whose share of 1 to 8 % never changed, 22 shots once a week or 28 every 2.5 days: 2.3 to 2.8
at log ratios of 2 and 3 and 3.3 to 3.6 at 4 where ball speed is not told, 1.8 to 2.6 and 1.8 to 2.4 where it is; ten squads of
tests/benchmarks/detection, of whom all lose ball speed (101, 102, 2120 to 2126, 2171 to 2175), 2.3 to 4.0, 2.2 to 4.4 and 1.9 to
4.8
"""


def _risen() -> Floats:
    """Chance of each share after a rise (columns), by the one before (rows)."""
    larger = np.maximum(RISEN_TIMES * SHARES, SHARES + RISEN_BY)[:, None] <= SHARES
    return np.asarray(larger / np.maximum(larger.sum(axis=1, keepdims=True), 1))


def _about_median(sd: float) -> Floats:
    density = np.exp(-0.5 * (USUAL_STEPS / sd) ** 2)
    return np.asarray(density / density.sum())


_RISEN, _USUAL, _CHANGED = _risen(), _about_median(_USUAL_SD), _about_median(_WIDER_SD)


def log_ratios_of_rise(
    day: Floats, place: Integers, likelihoods: Floats, losses: Floats, at: Integers, usual: Floats | None = None
) -> tuple[Floats, Floats]:
    """Logarithms of how much likelier sessions are with a share of wild shots that rose, within three months and before that.

    Parameters
    ----------
    day : (n,) array
        Day of each session, ascending [d].
    place, likelihoods : (n,) array of int, (n, 27, 8) array
        From :func:`pipelines.measures.scatter.rings.log_likelihoods`.
    losses : (n, 8, 9) array
        From :func:`pipelines.measures.scatter.lost.loss_log_likelihoods`.
    at : (m,) array
        Sessions after which it is asked.
    usual : (m, 8) array, optional
        How likely each share is of a player of whom nothing else is known, as known then; else :data:`QUIET`.

    Returns
    -------
    (m,) array, (m,) array
        Natural logarithms; ``-inf`` where no session of that time has four of the year before it. No missing values are taken.

    Notes
    -----
    A player's sessions have one usual width and one share, neither known: both are averaged over. With a rise the share is
    another from some session on, each of a time alike. How often ball speed is lost, near the middle and in the wide part, is
    not known either, and stays. Beside it stand: nothing has changed (.5); the whole pattern has become wider or narrower at some
    session (.2); the share rose at the other time (.2); ball speed is lost more or less often since some session (.1). Its
    expectation is at most 1 / .5 when nothing has changed, so large ones are rare.

    Source: [Tukey1960] (two normal parts), [KassRaftery1995] (the ratio; what is not known is averaged over)
    Checked: tests/unit/test_share_rise.py against sums that are written out
    """
    recent, older = np.full((2, at.size), -np.inf)
    about = cache(partial(_about_usual, place, likelihoods))
    for number, last in enumerate(at):
        own = slice(int(np.searchsorted(day, day[last] - HISTORY_DAYS)), last + 1)
        if last - own.start >= FEWEST_BEFORE:
            told = about(int(np.floor(np.median(place[own]))))[own]
            quiet = QUIET if usual is None else usual[number]
            recent[number], older[number] = _ratios(told, losses[own], day[own] >= day[last] - RECENT_DAYS, quiet)
    return recent, older


def chance_of_ratio(log_ratio: Floats) -> Floats:
    """One-sided chance of so large a ratio on a night when nothing has changed: ``exp(-L - 2.5)``, at most 1.

    Source: own simulation, see ``RARER``
    Checked: tests/unit/test_share_rise.py
    """
    return np.asarray(np.exp(np.minimum(-log_ratio - RARER, 0.0)))


def _about_usual(place: Integers, likelihoods: Floats, middle: int) -> Floats:
    """Likelihoods by usual widths about one of them, (sessions, 14, 8)."""
    step = middle + USUAL_STEPS - place[:, None]
    return np.asarray(likelihoods[np.arange(place.size)[:, None], np.clip(step, -USUAL_REACH, USUAL_REACH) + USUAL_REACH])


def log_likelihood_of_shares(place: Integers, likelihoods: Floats, losses: Floats) -> Floats:
    """How likely sessions of one player are by the share of wild shots, if it never changed, (8,): natural logarithms.

    Notes
    -----
    Usual width and how often ball speed is lost are averaged over. Source: [Tukey1960]. Checked: tests/unit/test_usual_shares.py
    """
    of_width = _about_usual(place, likelihoods, int(np.floor(np.median(place)))).sum(axis=0) + np.log(_USUAL)[:, None]
    of_loss = losses.sum(axis=0) + np.log(WEIGHTS)
    return np.asarray(np.logaddexp.reduce(of_width, axis=0) + np.logaddexp.reduce(of_loss, axis=1))


def _ratios(told: Floats, losses: Floats, is_recent: NDArray[np.bool_], quiet: Floats) -> tuple[float, float]:
    total, lost = np.cumsum(told, axis=0), np.cumsum(losses, axis=0)
    onset = np.arange(FEWEST_BEFORE, is_recent.size)
    onset = onset[is_recent[onset] | (onset % OLDER_EVERY == 0)]
    # by width (or pair of losses) and share; before and since, each over the largest
    before, after, scale = _parts(total, onset)
    lost_before, lost_after, lost_scale = _parts(lost, onset)
    before, lost_before = before * _USUAL[:, None], lost_before * WEIGHTS
    of_shares = np.matmul(before.transpose(0, 2, 1), after) * np.matmul(lost_before, lost_after.transpose(0, 2, 1))
    loss = (lost_before * lost_after).sum(axis=2)
    shape = before.sum(axis=1) * (after * _CHANGED[:, None]).sum(axis=1)
    same_shape = (before * after).sum(axis=1)
    other_loss = lost_before.sum(axis=2) * (lost_after * WEIGHTS).sum(axis=2)
    with np.errstate(divide="ignore"):
        same = np.log((same_shape[-1] * loss[-1] * quiet).sum()) + scale[-1] + lost_scale[-1]
        risen = np.log((of_shares * quiet[:, None] * _RISEN).sum(axis=(1, 2))) + scale + lost_scale
        wider = np.log((shape * loss * quiet).sum(axis=1)) + scale + lost_scale
        loses = np.log((same_shape * other_loss * quiet).sum(axis=1)) + scale + lost_scale
    now = is_recent[onset]
    ever = np.ones_like(now)
    rise, rose, other, less = log_mean_ratio(np.stack([risen, risen, wider, loses]), np.stack([now, ~now, ever, ever]))
    beside = reduce(
        np.logaddexp,
        (same + np.log(1.0 - WIDER - OTHER_TIME - LOSES), other + np.log(WIDER), less + np.log(LOSES)),
    )
    return tuple(float(one - np.logaddexp(beside, another + np.log(OTHER_TIME))) for one, another in ((rise, rose), (rose, rise)))  # type: ignore[return-value] # two of them


def _parts(total: Floats, onset: Integers) -> tuple[Floats, Floats, Floats]:
    """Likelihoods before and since each onset, each over its largest, and the logarithm of the product of both."""
    before = total[onset - 1]
    after = total[-1] - before
    largest = before.max(axis=(1, 2)), after.max(axis=(1, 2))
    scaled = (np.exp(one - most[:, None, None]) for one, most in zip((before, after), largest, strict=True))
    return *scaled, largest[0] + largest[1]
