"""What more shots are worth before the choice is made."""

from __future__ import annotations

import numpy as np
from scipy.special import ndtr


def unit_normal_loss(u: float) -> float:
    """Expected shortfall of a standard normal beyond ``u`` (no unit).

    Notes
    -----
    ``L(u) = phi(u) - u (1 - Phi(u))``. Source: [RaiffaSchlaifer1961]. Checked: tests/published/test_trial_value.py
    """
    return float(np.exp(-0.5 * u * u) / np.sqrt(2 * np.pi) - u * ndtr(-u))


def perfect_information_value(mean: float, sd: float) -> float:
    """Expected gain from knowing the difference exactly before choosing, in the unit of ``mean``.

    Notes
    -----
    ``sd L(|mean|/sd)``. Source: [RaiffaSchlaifer1961]. Checked: tests/published/test_trial_value.py
    """
    return sd * unit_normal_loss(abs(mean) / sd) if sd > 0 else 0.0


def sample_information_value(mean: float, sd: float, shot_variance: float, more_per_arm: int) -> float:
    """Expected gain from ``more_per_arm`` further shots of each of two arms before choosing, in the unit of ``mean``.

    Parameters
    ----------
    mean, sd : float
        Posterior of the difference.
    shot_variance : float
        Variance of one shot.
    more_per_arm : int

    Notes
    -----
    ``v' = 1/(1/v + n/(2 s^2))``, ``st = sqrt(v - v')``, value ``st L(|mean|/st)``.
    Source: [RaiffaSchlaifer1961]. Checked: tests/published/test_trial_value.py
    """
    if sd <= 0 or more_per_arm <= 0:
        return 0.0
    after = 1.0 / (1.0 / sd**2 + more_per_arm / (2.0 * shot_variance))
    return perfect_information_value(mean, float(np.sqrt(sd**2 - after)))
