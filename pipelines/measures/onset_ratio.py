"""Likelihood ratios of a change that began on one of several days, taken together."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def log_mean_ratio(log: Floats, looked: NDArray[np.bool_]) -> Floats:
    """Logarithm of the mean likelihood ratio over the days on which the change may have begun.

    Parameters
    ----------
    log : (m, k) array
        Natural logarithm of the ratio of each day k, after each session m; ``-inf`` where it is 0.
    looked : (m, k) array of bool
        Days that are looked at; of the others nothing is read.

    Returns
    -------
    (m,) array
        ``-inf`` where no day is looked at. No missing values are taken.

    Notes
    -----
    Source: [KassRaftery1995] (what is not known is averaged over). Checked: tests/unit/test_gain_ratio.py
    """
    with np.errstate(divide="ignore"):
        summed = np.logaddexp.reduce(np.where(looked, log, -np.inf), axis=1)
        return np.asarray(summed - np.log(np.maximum(looked.sum(axis=1), 1)))
