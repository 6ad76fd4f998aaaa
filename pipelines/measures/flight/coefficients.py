"""Drag and lift coefficients of a golf ball against spin ratio and Reynolds number, from published measurements.

Each set is a function ``(spin_ratio, reynolds) -> (drag, lift)`` of arrays of one shape. Production balls differ by about
0.02 in both coefficients, some 18 m of driver carry (Source: [BallToBall]): no set is right for every ball to better than
3 to 4 % of carry, which is why measured carry anchors the model wherever there is one.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np
from numpy.typing import NDArray

from pipelines.measures.tables import published_table

Floats = NDArray[np.float64]
CoefficientSet = Callable[[Floats, Floats], tuple[Floats, Floats]]

SPIN_RATIO_CLAMP = 0.24
REYNOLDS_FLOOR = 0.7e5
TAPER_SPIN_RATIO = 0.04
"""Below the smallest measured spin ratio the lift goes linearly to zero: no spin, no lift."""


def usga_coefficients(spin_ratio: Floats, reynolds: Floats) -> tuple[Floats, Floats]:
    """Drag and lift of the example ball of the indoor test range: the default.

    Notes
    -----
    ``CD = .2028 + 2.8466 S² + .0165 R - .2159 S``, ``CL = .0860 + .6463 S - .0122 R⁻² + 1.4789 S²`` with R in 1e5. Measured
    for S .04 to .22 and R .8 to 2.0; S is held at .24 and R at .7 from below. Source: [USPatent6186002].
    Checked: tests/published/test_flight.py.
    """
    ratio = np.minimum(spin_ratio, SPIN_RATIO_CLAMP)
    scaled = np.maximum(reynolds, REYNOLDS_FLOOR)
    scaled *= 1e-5
    drag = 2.8466 * ratio
    drag -= 0.2159
    drag *= ratio
    drag += 0.0165 * scaled
    drag += 0.2028
    lift = 1.4789 * ratio
    lift += 0.6463
    lift *= ratio
    scaled *= scaled
    lift -= 0.0122 / scaled
    lift += 0.0860
    lift *= _taper(ratio)
    return drag, lift


def pooled_coefficients(spin_ratio: Floats, reynolds: Floats) -> tuple[Floats, Floats]:
    """Drag and lift from a pooled fit of several balls (Reynolds 0.75e5 and above), for irons and for model spread.

    Notes
    -----
    ``CL = .0650 + .8524 S + .0180 S²`` to S .30, then ``.322 + .25 (S - .30)`` up to .45; ``CD = .2204 - .2706 S + 2.9971 S²``
    to S .22, then ``.3059 + .38 (S - .22)``; independent of the Reynolds number. Residual .024 and .020. Not peer
    reviewed; within .024 of thirteen modern balls in still air. Source: [PooledFit].
    Checked: tests/published/test_flight.py.

    Calibrated: [Lyu2018], whose balls may be among those of the fit, so
    tests/published/test_flight.py::test_pooled_fit_stays_near_thirteen_modern_balls is no check of it.
    """
    del reynolds  # one signature for every set; this fit does not use it
    ratio = spin_ratio
    drag = np.where(ratio < 0.22, 0.2204 + ratio * (2.9971 * ratio - 0.2706), 0.3059 + 0.38 * (ratio - 0.22))
    low = 0.0650 + ratio * (0.8524 + 0.0180 * ratio)
    lift = np.where(ratio < 0.30, low, np.minimum(0.322 + 0.25 * (ratio - 0.30), 0.45))
    return drag, lift * _taper(ratio)


def bearman_harvey_coefficients(spin_ratio: Floats, reynolds: Floats) -> tuple[Floats, Floats]:
    """Drag and lift of a conventional dimpled ball, interpolated in the printed table of spin and speed; for model spread.

    Notes
    -----
    Bilinear in spin (2000 to 6000 rpm) and speed (13.7 to 88.1 m/s) of the table's ball in air of 1.5e-5 m²/s; held at the
    table's edge outside. Source: [BearmanHarvey1976]. Checked: tests/published/test_flight.py.
    """
    speeds, drag_table, lift_table = _bearman_harvey()
    speed = reynolds * (1.5e-5 / 0.04267)
    rpm = spin_ratio * speed / 0.021335 * (30.0 / np.pi)
    across = np.interp(speed, speeds, np.arange(len(speeds), dtype=np.float64))
    down = np.clip((rpm - 2000.0) / 200.0, 0.0, drag_table.shape[0] - 1.0)
    drag = _bilinear(drag_table, down, across)
    lift = _bilinear(lift_table, down, across)
    return drag, lift * _taper(spin_ratio)


COEFFICIENT_SETS: dict[str, CoefficientSet] = {
    "usga": usga_coefficients,
    "pooled": pooled_coefficients,
    "bearman_harvey": bearman_harvey_coefficients,
}


def _taper(spin_ratio: Floats) -> Floats:
    return np.minimum(spin_ratio * (1.0 / TAPER_SPIN_RATIO), 1.0)


@cache
def _bearman_harvey() -> tuple[Floats, Floats, Floats]:
    drag = published_table("bearman_harvey_1976_CD")
    lift = published_table("bearman_harvey_1976_CL")
    speeds = np.array([float(name) for name in drag.columns[1:]])
    return speeds, drag.drop("rpm").to_numpy(), lift.drop("rpm").to_numpy()


def _bilinear(table: Floats, down: Floats, across: Floats) -> Floats:
    row = np.minimum(down.astype(np.intp), table.shape[0] - 2)
    column = np.minimum(across.astype(np.intp), table.shape[1] - 2)
    below, right = down - row, across - column
    top = table[row, column] * (1.0 - right) + table[row, column + 1] * right
    bottom = table[row + 1, column] * (1.0 - right) + table[row + 1, column + 1] * right
    value: Floats = top * (1.0 - below) + bottom * below
    return value
