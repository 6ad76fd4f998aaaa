"""Self-starting charts of many series at once: each session against the player's own earlier ones, learning while watching."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri, stdtr

if TYPE_CHECKING:
    from collections.abc import Sequence

Floats = NDArray[np.float64]
Truths = NDArray[np.bool_]


@dataclass(frozen=True)
class ChartSettings:
    """How a session is scored and summed. Lengths are in standard deviations of a session value.

    Attributes
    ----------
    slack : float
        Allowance of the cumulative sums: half of the shift that matters.
    clip : float
        Scores are cut to -clip..clip, so that one odd session cannot raise an alarm.
    baseline_clip : float
        A session enters the baseline no further than this from its mean.
    prior_count : float
        Weight of the squad's variance, in sessions.
    memory : float
        The baseline never counts more sessions than this; older ones fade.
    freeze_at : float
        A sum that reaches this opens an episode: the baseline is frozen.
    confirm_at : float
        A sum that reaches this is a confirmed shift: it is dated.
    most : float
        Sums grow no further, so that they can fall when the level is back.
    settle_days : float
        So many days after an episode opened a level that has stayed is lasting: the chart begins anew with it.
    settle_sessions : int
        And so many sessions after it: six weeks hold six sessions of one who comes once a week, too few to call a level lasting.
    learning_sessions : int
        Own sessions before the chart says anything.
    """

    slack: float = 0.5
    clip: float = 2.0
    baseline_clip: float = 2.5
    prior_count: float = 8.0
    memory: float = 60.0
    freeze_at: float = 5.0
    confirm_at: float = 6.0
    most: float = 12.0
    settle_days: float = 42.0
    settle_sessions: int = 8
    learning_sessions: int = 8


@dataclass
class ChartBaseline:
    """What each of S series has taken for normal so far.

    A session value is taken as normal with mean ``mean`` and variance ``factor * V``; V is what the squad leads to expect of that
    session (form between sessions, and shot noise by the number of shots), the factor is the player's own.

    Attributes
    ----------
    mean, precision : (S,) arrays
        Weighted mean, and the sum of its weights ``1 / V``.
    squares, count : (S,) arrays
        Sum of standardised squares, and how many, with the squad's prior.
    own : (S,) array
        Own sessions since the (re)start.
    """

    mean: Floats
    precision: Floats
    squares: Floats
    count: Floats
    own: Floats

    @staticmethod
    def unknown(n_series: int, settings: ChartSettings) -> ChartBaseline:
        """Nothing but the squad's variance."""
        zero, prior = np.zeros(n_series), np.full(n_series, settings.prior_count)
        return ChartBaseline(zero.copy(), zero.copy(), prior.copy(), prior.copy(), zero.copy())

    def _mean_variance(self) -> Floats:
        return np.divide(1.0, self.precision, out=np.full_like(self.precision, np.inf), where=self.precision > 0)

    def sd(self, variance: Floats) -> Floats:
        """Standard deviation of a session value about the own mean."""
        return np.sqrt(self.squares / self.count * variance)

    def scores(self, values: Floats, variance: Floats, settings: ChartSettings) -> Floats:
        """Normal scores of the next session, cut to the clip; 0 where there is no session before it.

        Notes
        -----
        ``t = (x - m) / sqrt(factor (V + 1/W))`` with ``W = sum 1/V``; ``Q = Phi^-1(T_nu(t))``,
        nu = prior count + own sessions - 1.
        """
        spread = np.sqrt(self.squares / self.count * (variance + self._mean_variance()))
        t = (values - self.mean) / spread
        tail = np.maximum(stdtr(self.count, -np.abs(t)), 1e-300)
        return np.asarray(np.clip(-np.sign(t) * ndtri(tail), -settings.clip, settings.clip))

    def learn(self, values: Floats, variance: Floats, there: Truths, settings: ChartSettings) -> None:
        """Take a session into the normal, where there is one."""
        known = self.precision > 0
        reach = settings.baseline_clip * self.sd(variance)
        error = np.where(known, np.clip(values - self.mean, -reach, reach), values)
        gained = np.where(there & known, error * error / (variance + self._mean_variance()), 0.0)
        precision = self.precision + np.where(there, 1.0 / variance, 0.0)
        self.mean = np.where(there, self.mean + error / variance / np.where(there, precision, 1.0), self.mean)
        self.squares, self.count = self.squares + gained, self.count + np.where(there & known, 1.0, 0.0)
        self.own = self.own + there
        self._fade(precision, variance, settings)

    def _fade(self, precision: Floats, variance: Floats, settings: ChartSettings) -> None:
        limit = settings.memory / variance
        self.precision = np.minimum(precision, np.maximum(limit, self.precision))
        excess = np.minimum(1.0, (settings.memory + settings.prior_count) / self.count)
        self.squares, self.count = self.squares * excess, self.count * excess

    def restart(self, series: int, values: Floats, variance: Floats, settings: ChartSettings) -> None:
        """Learn one series anew from some of its sessions."""
        fresh = learned(values.tolist(), variance.tolist(), settings)
        for name, value in zip(_FIELDS, fresh, strict=True):
            getattr(self, name)[series] = value

    def of(self, series: list[int]) -> ChartBaseline:
        """What some of the series have taken for normal."""
        return ChartBaseline(*(getattr(self, name)[series] for name in _FIELDS))

    def follow(self, other: ChartBaseline, held: list[int]) -> None:
        """Take over what another baseline has learned of all series but these."""
        for name in _FIELDS:
            own, taken = getattr(self, name), getattr(other, name).copy()
            taken[held] = own[held]
            setattr(self, name, taken)

    def adopt(self, series: int, other: ChartBaseline) -> None:
        """Take over what another baseline has learned of one series."""
        self._take(series, other, series)

    def _take(self, series: int, other: ChartBaseline, of: int) -> None:
        for name in _FIELDS:
            getattr(self, name)[series] = getattr(other, name)[of]


_FIELDS = ("mean", "precision", "squares", "count", "own")


def learned(values: Sequence[float], variances: Sequence[float], settings: ChartSettings) -> tuple[float, ...]:
    """What one series has taken for normal after some sessions: mean, precision, squares, count, own.

    The steps of :meth:`ChartBaseline.learn` on single numbers, to the last digit: arrays of one number take fifty times as long,
    and calls of ``min`` and ``max`` as long as all the rest.

    Parameters
    ----------
    values, variances : sequence of float
    settings : ChartSettings

    Returns
    -------
    tuple of float

    Notes
    -----
    Source: own rule. Checked: tests/unit/test_self_starting.py
    """
    mean, precision, squares, count = 0.0, 0.0, settings.prior_count, settings.prior_count
    clip, memory, most = settings.baseline_clip, settings.memory, settings.memory + settings.prior_count
    for value, variance in zip(values, variances, strict=True):
        before, error = precision, value
        if before > 0:
            reach, error = clip * math.sqrt(squares / count * variance), value - mean
            error = reach if error > reach else -reach if error < -reach else error  # noqa: FURB136 - see above
            squares, count = squares + error * error / (variance + 1.0 / before), count + 1.0
        precision = before + 1.0 / variance
        mean += error / variance / precision
        limit = memory / variance
        limit = before if before > limit else limit  # noqa: FURB136
        precision = limit if precision > limit else precision  # noqa: FURB136
        if most < count:
            excess = most / count
            squares, count = squares * excess, count * excess
    return mean, precision, squares, count, float(len(values))
