"""The pattern of a player's drives: a core with the tails of a t distribution, and a mishit part."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

CORE_TAIL_DF = 4.0
MISHIT_TOTAL_SHARE = 0.65
MISHIT_TOTAL_SD_SHARE = 0.12
MISHIT_DIRECTION_FACTOR = 1.5


@dataclass(frozen=True)
class DrivePattern:
    """Where drives come to rest: distance along the line of aim, and direction from the tee.

    Attributes
    ----------
    total_m : float
        Middle of the core: carry and run [m].
    direction_deg : float
        Middle of the core right (+) or left (-) of the aim [°]; the best aim takes it out.
    total_sd_m, direction_sd_deg : float
        Standard deviations of the core [m], [°], tails included; 4 to 8° by level of player. Source: [Broadie2008].
    correlation : float
        Between distance and direction, -1 to 1.
    mishit_rate : float
        Share of drives that fall far short, 0 to 1.
    mishit_total_share, mishit_total_sd_share : float
        Middle and standard deviation of a mishit's distance, as shares of ``total_m``.
    mishit_direction_factor : float
        Direction spread of mishits over that of the core.
    tail_df : float
        Degrees of freedom of the core's tails; infinity: normal. Source: [Ko2012] for heavier tails than normal;
        the 4 is a choice.
    """

    total_m: float
    direction_deg: float
    total_sd_m: float
    direction_sd_deg: float
    correlation: float = 0.0
    mishit_rate: float = 0.0
    mishit_total_share: float = MISHIT_TOTAL_SHARE
    mishit_total_sd_share: float = MISHIT_TOTAL_SD_SHARE
    mishit_direction_factor: float = MISHIT_DIRECTION_FACTOR
    tail_df: float = CORE_TAIL_DF


@dataclass(frozen=True)
class PatternError:
    """Standard errors of what is known of a pattern.

    Attributes
    ----------
    total_m : float
        Of the middle distance [m].
    log_total_sd, log_direction_sd : float
        Of the logarithms of the two spreads.
    mishit_rate : float
        Of the share of mishits.
    """

    total_m: float
    log_total_sd: float
    log_direction_sd: float
    mishit_rate: float


def sd_to_scale(tail_df: float) -> float:
    """Scale of a t distribution over its standard deviation: ``sqrt((df - 2)/df)``; 1 for the normal."""
    return 1.0 if np.isinf(tail_df) else float(np.sqrt((tail_df - 2.0) / tail_df))
