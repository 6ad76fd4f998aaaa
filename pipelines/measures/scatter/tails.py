"""Spread of shots with their tails: two normal parts about one middle, a narrow one and one four times as wide."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

TAIL_FACTOR = 4.0
"""Width of the wide part over the narrow one: a choice, at which 1 in 20 wide shots has the tails of a t distribution of 4."""
TAIL_SHARES: Floats = np.array([0.0, 0.02, 0.05, 0.10, 0.15, 0.20, 0.30])
PRIOR_WEIGHTS: Floats = np.array([0.40, 0.15, 0.15, 0.12, 0.08, 0.06, 0.04])
"""How likely each share of wide shots is before any shot was seen: own choice."""
_WIDTHS: Floats = np.exp(np.linspace(-0.6, 0.5, 45))
"""Narrow widths that are tried, over the one that the robust scale gives for normal shots."""
FEWEST_SESSIONS = 3
"""From these on, days are taken into an error by the spread between sessions."""
_NORMAL_OVER_ROBUST = 1.172
"""Standard deviation of normal shots over the scale that a t fit of 4 degrees of freedom gives them: one over the root of .728.

Source: [LangeLittleTaylor1989]."""


@dataclass(frozen=True)
class TailSpread:
    """Spread of one coordinate, tails included.

    Attributes
    ----------
    sd : float
        Standard deviation of all shots, in their unit.
    log_error : float
        Standard error of its logarithm, what is not known of the tails included; see :func:`with_sessions`.
    tail_share : float
        Share of shots in the wide part, 0 to 0.3.
    tail_share_error : float
        Its standard error.
    correlation : float
        Between what is not known of the logarithm of ``sd`` and of ``tail_share``: more tails, more spread.
    """

    sd: float
    log_error: float
    tail_share: float
    tail_share_error: float
    correlation: float


def sd_over_core(tail_share: Floats | float) -> Floats:
    """Standard deviation of all shots over that of the narrow part: ``sqrt(1 - f + 16 f)``.

    Notes
    -----
    Variance of two normal parts about one middle. Source: [Tukey1960]. Checked: tests/published/test_scatter.py.
    """
    share = np.asarray(tail_share, dtype=np.float64)
    over: Floats = np.sqrt(1.0 + (TAIL_FACTOR**2 - 1.0) * share)
    return over


def tail_spread(
    values: Floats, middle: float, robust_scale: float, prior_sd: float | None = None, prior_shots: float = 0.0
) -> TailSpread:
    """Standard deviation of shots whose tails are not known beforehand, with the share of shots that make the tails.

    Parameters
    ----------
    values : numpy.ndarray
        Shape (n,), any unit, no missing value.
    middle : float
        Their middle.
    robust_scale : float
        Scale of a t fit with 4 degrees of freedom, above 0, in the unit of the values.
    prior_sd : float or None
        Standard deviation of the narrow part that is usual in the squad.
    prior_shots : float
        How many shots it weighs.

    Returns
    -------
    TailSpread

    Notes
    -----
    ``(1 - f) N(m, s²) + f N(m, 16 s²)``: posterior means over a grid of 45 widths s and 7 shares f, so that the standard error
    holds both. On normal shots the standard deviation is 2 to 7 % too large at 20 to 200 shots, on shots of a t distribution of 4
    it is within 6 %, and with 15 % of shots four times as wide 2 to 7 % too small from 40 shots on; a wide part that is wider
    than fourfold is told too small. Source: [Ko2012], [Tukey1960]; the data of the check: [Stigler1977].
    Checked: tests/published/test_scatter.py, tests/property/test_scatter.py.
    """
    width = robust_scale * _NORMAL_OVER_ROBUST * _WIDTHS
    half_square = 0.5 * ((values[None, :] - middle) / width[:, None]) ** 2
    narrow, wide = np.exp(-half_square), np.exp(-half_square / TAIL_FACTOR**2) / TAIL_FACTOR
    share = TAIL_SHARES[None, :, None]
    density = (1.0 - share) * narrow[:, None, :] + share * wide[:, None, :]
    log_posterior = np.log(np.maximum(density, 1e-300)).sum(axis=2) - values.size * np.log(width)[:, None] + np.log(PRIOR_WEIGHTS)
    if prior_sd is not None:
        log_posterior -= prior_shots * (np.log(width) + 0.5 * (prior_sd / width) ** 2)[:, None]
    posterior = np.exp(log_posterior - log_posterior.max())
    posterior /= posterior.sum()
    log_sd = np.log(width)[:, None] + np.log(sd_over_core(TAIL_SHARES))
    level, of_share = float((posterior * log_sd).sum()), posterior.sum(axis=0)
    tail = float(of_share @ TAIL_SHARES)
    log_error = float(np.sqrt((posterior * (log_sd - level) ** 2).sum()))
    tail_error = float(np.sqrt(of_share @ (TAIL_SHARES - tail) ** 2))
    together = float((posterior * (log_sd - level) * (TAIL_SHARES - tail)).sum())
    return TailSpread(
        sd=float(np.exp(level)),
        log_error=log_error,
        tail_share=tail,
        tail_share_error=tail_error,
        correlation=together / (log_error * tail_error) if tail_error > 0.0 else 0.0,
    )


SESSION_CLIP = 2.0
"""Standard deviations to which a shot is cut where sessions are compared: a wild shot is no wide session."""


def with_sessions(spread: TailSpread, values: Floats, middle: float, session: Integers) -> TailSpread:
    """The spread with an error that holds what sessions differ by, beyond what their shots do by chance.

    Parameters
    ----------
    spread : TailSpread
        Of the values, as if their shots were independent.
    values : numpy.ndarray
        Shape (n,), no missing value.
    middle : float
    session : numpy.ndarray
        Shape (n,), ascending: number of the session of each shot.

    Returns
    -------
    TailSpread
        The same where there are fewer than three sessions.

    Notes
    -----
    With ``z = min((x - m)**2 / s**2, 4)``, ``d = z - mean(z)`` and k sessions: ``log_error**2 + max(0, k / (k - 1) sum_sessions
    (sum d)**2 - sum d**2) / (2 sum z of the shots that are not cut)**2``, the delta method on the logarithm of the narrow width.
    On a windy day, or in a bay with a crosswind, all shots lie wider: a month of ten sessions tells less than its shots.

    Source: [LiangZeger1986]
    Checked: tests/property/test_scatter.py
    """
    _, place = np.unique(session, return_inverse=True)
    n_sessions = int(place.max(initial=-1)) + 1
    if n_sessions < FEWEST_SESSIONS:
        return spread
    square = ((values - middle) / spread.sd) ** 2
    cut = np.minimum(square, SESSION_CLIP**2)
    away = cut - cut.mean()
    together = np.bincount(place, away, minlength=n_sessions)
    beyond = n_sessions / (n_sessions - 1) * float(together @ together) - float(away @ away)
    moved = 2.0 * float(square[square < SESSION_CLIP**2].sum())
    error = float(np.sqrt(spread.log_error**2 + max(beyond, 0.0) / moved**2))
    return replace(spread, log_error=error, correlation=spread.correlation * spread.log_error / error)
