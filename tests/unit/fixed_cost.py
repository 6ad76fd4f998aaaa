"""A cost that is the same for every pattern, so that a test knows what it must come to."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from pipelines.measures.trial.cost import CostGrid, landing_axes

Floats = np.ndarray


@dataclass(frozen=True)
class FixedCost:
    """The cost model of one fixed grid."""

    fixed: CostGrid
    tee_shots: int = 14

    def grid(self, carry_m: float, carry_sd_m: float, offline_sd_m: float, mishit_rate: float) -> CostGrid:
        return self.fixed


def cost_grid(cost: Callable[[Floats, Floats], Floats]) -> CostGrid:
    """The grid of a function ``cost(carry_m, offline_m) -> strokes`` that takes arrays."""
    carry, offline = landing_axes()
    return CostGrid(np.asarray(cost(carry, offline) + 0.0 * (carry + offline), dtype=np.float64))
