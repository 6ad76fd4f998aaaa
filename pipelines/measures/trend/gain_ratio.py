"""How much likelier a player's sessions are when the level gained within two months than when it only grew."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import erf, log_ndtr

from pipelines.measures.onset_ratio import log_mean_ratio
from pipelines.measures.trend.season import YEAR_DAYS

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

SLOPE_SD, SPURT_SD, SPURT_DAYS = 3.0, 4.5, 45.0
"""Growth differs from that of the class of age by so much a year over a whole history, and by so much for some months, with
resemblance that fades over so many days [scale units a year, d].

Calibrated: simulated juniors, seeds 45, 1211 and 2001 to 2022 (tests/benchmarks/detection).
"""

GAIN_DAYS, GAIN_SD = 60.0, 3.0
"""A gain takes two months, and is half-normal with this scale [d, scale units]: changes of flags are taken to be so large
(:mod:`pipelines.measures.flags.stated`). Own choice."""

EVERY_DAYS, OLDEST_DAYS, FEWEST_SINCE = 7.0, 120.0, 3
"""A gain is looked for from every seventh day of the last 120 on, with three sessions since. Own choice."""

LEVEL_SD = 30.0
"""Of the first level: so wide that it tells nothing [scale units]."""

_LAG, _PRIOR_SESSIONS, _CUT, _AROUND = 3, 8.0, 2.5, 7


def log_ratio_of_gain(day: Floats, values: Floats, variance: Floats, slope: float, at: Integers) -> Floats:
    """Logarithm of the mean likelihood ratio of a gain that began on some day, beside growth alone.

    Parameters
    ----------
    day : (n,) array
        Day of each session, ascending [d].
    values : (n,) array
        Session values without the season [scale units].
    variance : (n,) array
        Of a session about the level [scale units squared].
    slope : float
        Growth that is expected of the class of age [scale units a year].
    at : (m,) array
        Sessions after which it is asked.

    Returns
    -------
    (m,) array
        Natural logarithm; ``-inf`` where three sessions have not passed since any day that is looked at. No missing values are
        taken.

    Notes
    -----
    Sessions are jointly normal: the level begins anywhere, grows by ``slope + N(0, SLOPE_SD**2)`` a year and by the integral of a
    stationary normal process (SD ``SPURT_SD`` a year, correlation ``exp(-d**2 / (2 SPURT_DAYS**2))``), and a session lies about
    it with its variance. A gain adds ``a min(max(t - k, 0) / GAIN_DAYS, 1)``. With z the whitened values, u the whitened gain,
    ``S = z.u`` and ``I = u.u`` over the sessions so far, the ratio is ``2 Phi(S r) exp(S**2 r**2 / 2) / sqrt(1 + s**2 I)``,
    ``r**2 = s**2 / (1 + s**2 I)``, for ``a`` half-normal with scale s; it is averaged over k.

    Source: [RasmussenWilliams2006] (the process), [KassRaftery1995] (the ratio)
    Checked: tests/unit/test_gain_ratio.py against ``scipy.stats.multivariate_normal``, integrated over the size of the gain
    """
    t = day - day[0]
    begin = np.arange(0.0, t[-1] + 1.0, EVERY_DAYS)
    begin = begin[begin >= t[at].min() - OLDEST_DAYS]
    gain = np.clip((t[:, None] - begin) / GAIN_DAYS, 0.0, 1.0)
    left = values - values[0] - slope / YEAR_DAYS * t
    covariance = np.diag(variance) + LEVEL_SD**2 + growth_covariance(t)
    white = whitened(np.asarray(np.linalg.cholesky(covariance)), np.column_stack([left, gain]))
    z, u = white[:, :1], white[:, 1:]
    s, information = np.cumsum(z * u, axis=0)[at], np.cumsum(u * u, axis=0)[at]
    since = at[:, None] + 1 - np.searchsorted(t, begin)
    looked = (t[at, None] - begin <= OLDEST_DAYS) & (since >= FEWEST_SINCE)
    shrink = 1.0 + GAIN_SD**2 * information
    reach = s * GAIN_SD / np.sqrt(shrink)
    log = np.log(2.0) + log_ndtr(reach) + 0.5 * reach**2 - 0.5 * np.log(shrink)
    return log_mean_ratio(log, looked)


def whitened(lower: Floats, columns: Floats) -> Floats:
    """What a lower triangular matrix, (n, n), turns into these columns, (n, k).

    Notes
    -----
    Written out: of so few rows the threads of a library wait for each other many times as long as it takes.
    Source: own rule (forward substitution). Checked: tests/unit/test_gain_ratio.py
    """
    found = columns.copy()
    for row in range(len(found)):
        found[row] /= lower[row, row]
        found[row + 1 :] -= lower[row + 1 :, row, None] * found[row]
    return found


def growth_covariance(t: Floats) -> Floats:
    """Covariance of what is grown by each day beyond what the class grows, (n, n) [scale units squared].

    Notes
    -----
    ``s**2 t t'`` of the own slope; of the spurts ``(V(t) + V(t') - V(t - t')) / 2`` with V the variance of what is gained within
    d days: ``2 v**2 (d l sqrt(pi / 2) erf(d / (l sqrt 2)) - l**2 (1 - exp(-d**2 / (2 l**2))))``, v a day and l the days of
    resemblance.

    Source: [RasmussenWilliams2006]; the integral is derived here
    Checked: tests/unit/test_gain_ratio.py by quadrature
    """
    own = (SLOPE_SD / YEAR_DAYS) ** 2 * np.outer(t, t)
    gained = _gained_variance(t)
    return np.asarray(own + 0.5 * (gained[:, None] + gained - _gained_variance(t[:, None] - t)))


def _gained_variance(days: Floats) -> Floats:
    d, within = np.abs(days), SPURT_DAYS
    smooth = d * within * np.sqrt(np.pi / 2.0) * erf(d / (np.sqrt(2.0) * within)) - within**2 * (
        1.0 - np.exp(-0.5 * (d / within) ** 2)
    )
    return np.asarray(2.0 * (SPURT_SD / YEAR_DAYS) ** 2 * smooth)


def cut_to_neighbours(values: Floats, variance: Floats) -> Floats:
    """Values no further than 2.5 standard deviations from the median of the seven before them: one odd session is no gain.

    Parameters
    ----------
    values, variance : (n,) arrays
        No missing values; the first three stay.

    Notes
    -----
    Source: own rule. Checked: tests/unit/test_gain_ratio.py
    """
    middle = np.array([np.median(values[max(k - _AROUND, 0) : k]) if k >= _LAG else values[k] for k in range(values.size)])
    reach = _CUT * np.sqrt((1.0 + 0.25) * variance)
    return np.clip(values, middle - reach, middle + reach)


def own_over_squad(values: Floats, variance: Floats) -> Floats:
    """After each session: a player's own variance of sessions over what the squad leads to expect, drawn toward 1.

    Parameters
    ----------
    values, variance : (n,) arrays
        No missing values.

    Notes
    -----
    ``(8 + sum d**2) / (8 + n)``, d the difference of sessions three apart over its standard deviation, cut at 2.5: a level that
    moves slowly cancels.

    Source: own rule
    Checked: tests/unit/test_gain_ratio.py
    """
    square = np.zeros(values.size)
    square[_LAG:] = np.minimum((values[_LAG:] - values[:-_LAG]) ** 2 / (variance[_LAG:] + variance[:-_LAG]), _CUT**2)
    n = np.maximum(np.arange(1, values.size + 1) - _LAG, 0)
    return np.asarray((_PRIOR_SESSIONS + np.cumsum(square)) / (_PRIOR_SESSIONS + n))
