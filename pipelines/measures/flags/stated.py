"""What a flag states of a change: drawn toward none for having been picked, and how many sessions would settle it."""

from __future__ import annotations

from types import MappingProxyType

import polars as pl

from pipelines.measures.grouping import divided
from pipelines.measures.trend.observations import SCATTERS

SHARE_REAL, TRUE_SPREAD = 0.2, 3.0
"""Share of players of whom a level has changed at any time, and the standard deviation of such changes in smallest worthwhile
changes. Own choice.

Calibrated: simulated squads whose seeds are not those reported (tests/benchmarks/detection/test_stated.py)
"""

SCATTER_SPREAD = 5.0
"""The same standard deviation for scatter: a pattern can double, which is four of its smallest worthwhile changes. Own choice.

Calibrated: likewise
"""

HALVED_AFTER: MappingProxyType[str, float] = MappingProxyType({"speed_fall": 3.0, "scatter_rise": 1.5})
"""Sessions since a flag was raised after which half of what it called likely is left while it is a notice: what is real soon
becomes an alert. Notices of other kinds keep what they say, for what is real of them waits as well.

Calibrated: own simulation (tests/benchmarks/detection/makings.py, seeds 2301 to 2306 and 2351 to 2367)
"""

SETTLED, MOST_SESSIONS = 2.0 * 1.6448536269514722, 12
"""An interval of 90 % that is no wider than the change leaves out none or the change, wherever it falls."""


def true_spread(metric: pl.Expr) -> pl.Expr:
    """How far levels of a quantity change where they do: a standard deviation [smallest worthwhile changes].

    Source: own rule. Checked: tests/unit/test_stated.py
    """
    return pl.when(metric.is_in(list(SCATTERS))).then(SCATTER_SPREAD).otherwise(TRUE_SPREAD)


def likely_change(change: pl.Expr, error: pl.Expr, spread: pl.Expr) -> pl.Expr:
    """Posterior mean of a change that was seen [unit of the change].

    Parameters
    ----------
    change, error : polars.Expr
        The change and its standard error.
    spread : polars.Expr
        Standard deviation of changes, where there was one: :func:`true_spread` times the smallest worthwhile change.

    Returns
    -------
    polars.Expr
        ``P(real | d) d t**2 / (t**2 + s**2)``.

    Notes
    -----
    Two groups: ``delta = 0`` for most, ``delta ~ N(0, t**2)`` with ``t`` the spread for one in five;
    ``d ~ N(delta, s**2)``. A posterior mean is the same whether the largest were picked or not, as far as the two groups are
    those of the squad; the change as seen is not: of flags it is too large.

    Source: [Efron2008], [Efron2011]
    Checked: tests/unit/test_stated.py, tests/benchmarks/detection/test_stated.py
    """
    noise, prior = error**2, spread**2
    odds = SHARE_REAL / (1.0 - SHARE_REAL) * (noise / (noise + prior)).sqrt()
    real = 1.0 / (1.0 + (-0.5 * change**2 * (1.0 / noise - 1.0 / (noise + prior))).exp() / odds)
    return real * prior / (prior + noise) * change


def share_still_likely(kind: pl.Expr, n_sessions: pl.Expr) -> pl.Expr:
    """Share of what a flag called likely that still is after so many sessions as a notice; null of kinds that keep it.

    Notes
    -----
    On its first day nobody knows whether a notice becomes an alert, and most of the real ones do: what is said then is right
    on average over both. Of those that are left after some sessions hardly any is real.

    Source: [Efron2011] (what is said depends on what was picked)
    Checked: tests/unit/test_stated.py, tests/benchmarks/detection/test_stated.py
    """
    halved = kind.replace_strict(dict(HALVED_AFTER), default=None, return_dtype=pl.Float64)
    return (0.5 ** (n_sessions / halved)).cast(pl.Float64)


def sessions_to_settle(change: pl.Expr, session_sd: pl.Expr, usual_n: pl.Expr) -> pl.Expr:
    """Further sessions after which their mean against the normal tells a change of this size from none; null: more than twelve.

    Notes
    -----
    The smallest k for which ``2 z sqrt(sd**2 / k + sd**2 / n)`` is no larger than the change, ``z`` of a 90 % interval: sessions
    that were not picked need no drawing toward none.

    Source: derived here
    Checked: tests/unit/test_stated.py
    """
    room = divided(change, SETTLED) ** 2 - session_sd**2 / usual_n
    k = (session_sd**2 / room).ceil().clip(1.0, None)
    return pl.when((room > 0) & (k <= MOST_SESSIONS)).then(k).cast(pl.Int64)
