"""Whether a proven rise has stopped."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

PROVEN_ABOVE, STOPPED_BELOW = 0.95, 0.20
AFTER_DAYS, SAID_FOR_DAYS, CHARTED_WITHIN_DAYS = 14.0, 28.0, 56.0


def stalled(days: Floats, p_half: Floats, known: NDArray[np.bool_], charted: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """After each session of one series: a proven rise has stopped not more than four weeks ago.

    Parameters
    ----------
    days : (n,) array
        Ascending [d].
    p_half : (n,) array
        Probability that the 28-day gain is above half of the smallest worthwhile change.
    known : (n,) array of bool
        Whether there is a 28-day change.
    charted : (n,) array of bool
        Whether the chart of rises is above its notice limit.

    Notes
    -----
    Proven: the probability is above .95 and the chart has found a rise within the last eight weeks. Stopped: 14 days or more
    after it was last above .95 it is below .20 at two
    sessions
    in a row. Then the rise has to be proven anew.

    Source: own rule
    Checked: tests/unit/test_stall.py
    """
    said = np.zeros(days.size, dtype=bool)
    proven_on, stopped_on, charted_on, low_before = -np.inf, -np.inf, -np.inf, False
    for step in np.flatnonzero(known):
        charted_on = days[step] if charted[step] else charted_on
        if p_half[step] > PROVEN_ABOVE and days[step] - charted_on <= CHARTED_WITHIN_DAYS:
            proven_on, stopped_on = days[step], -np.inf
        low = bool(p_half[step] < STOPPED_BELOW)
        if low and low_before and np.isfinite(proven_on) and days[step] - proven_on >= AFTER_DAYS:
            proven_on, stopped_on = -np.inf, days[step]
        low_before = low
        said[step] = days[step] - stopped_on <= SAID_FOR_DAYS
    return said
