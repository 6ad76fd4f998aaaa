"""Smallest worthwhile changes: one value for each quantity and quarter, that trials, flags and trends all read."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from pipelines.measures.trend.priors import PRIORS

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping

    from numpy.typing import NDArray

SHARE_OF_SPREAD = 0.2
RANGE = (1.0, 1.5)
"""Least and most that a squad's own value may be, in starting values. Below them a trial without effect would end in keep or go
back once in ten when it is looked at after every round (at .75: .095 of 200; day effects and mishits, own simulation)."""


@dataclass(frozen=True)
class Worthwhile:
    """Smallest change that matters for one measurement.

    Attributes
    ----------
    amount : float
        In the unit of the measurement, or a share of the player's normal level.
    is_share : bool
        ``amount`` is a share of the normal level.
    only_core : bool
        Mishits are left out of the mean (they are counted beside it).
    is_delivery : bool
        Part of the swing or strike: a side effect when the trial was about something else.
    """

    amount: float
    is_share: bool = False
    only_core: bool = False
    is_delivery: bool = False

    def at(self, level: float) -> float:
        """The change in the unit of the measurement, at the player's normal level."""
        return self.amount * abs(level) if self.is_share else self.amount


FOLLOWED_AS: MappingProxyType[str, str] = MappingProxyType(
    {
        "club_speed_mps": "club_speed_mps",
        "ball_speed_mps": "ball_speed_mps",
        "speed_ratio": "speed_ratio",
        "carry_m": "comparable_carry_m",
        "attack_deg": "attack_deg",
        "launch_deg": "launch_deg",
        "spin_rpm": "spin_rpm",
    }
)
"""Measurement of a trial to the quantity that trends and flags follow."""

SHARES = frozenset({"club_speed_mps", "ball_speed_mps", "speed_ratio", "carry_m", "spin_rpm"})


def _starting(measurement: str, *, only_core: bool = False, is_delivery: bool = False) -> Worthwhile:
    worth, is_share = PRIORS[FOLLOWED_AS[measurement]].worthwhile, measurement in SHARES
    return Worthwhile(worth / 100.0 if is_share else worth, is_share, only_core, is_delivery)


WORTHWHILE: MappingProxyType[str, Worthwhile] = MappingProxyType(
    {
        "club_speed_mps": _starting("club_speed_mps"),
        "ball_speed_mps": _starting("ball_speed_mps", only_core=True),
        "speed_ratio": _starting("speed_ratio", only_core=True),
        "carry_m": _starting("carry_m", only_core=True),
        "offline_m": Worthwhile(4.0, only_core=True),
        "attack_deg": _starting("attack_deg", is_delivery=True),
        "path_deg": Worthwhile(1.0, is_delivery=True),
        "face_deg": Worthwhile(1.0, is_delivery=True),
        "loft_deg": Worthwhile(1.0, is_delivery=True),
        "launch_deg": _starting("launch_deg", only_core=True, is_delivery=True),
        "direction_deg": Worthwhile(1.0, only_core=True, is_delivery=True),
        "spin_rpm": _starting("spin_rpm", only_core=True, is_delivery=True),
        "strike_side_mm": Worthwhile(4.0, is_delivery=True),
        "strike_height_mm": Worthwhile(3.0, is_delivery=True),
    }
)
"""Starting values by measurement of a trial: of what trends follow, theirs; of the others, which no flag reads, common practice:
about what a coach would remark on. Source: [TrialPractice]."""

STROKES = 0.3
"""Strokes a round: about one in four rounds gained over a tournament. Source: [TrialPractice]."""


@dataclass(frozen=True)
class Worths:
    """What counts as worthwhile for one player, club and quarter.

    Attributes
    ----------
    by_measurement : mapping of str to Worthwhile
    scatter : float
        Ratio of scatters: so much wider, or narrower, matters.
    strokes : float
        A round.
    """

    by_measurement: Mapping[str, Worthwhile]
    scatter: float
    strokes: float = STROKES

    @property
    def speed_pct(self) -> float:
        """Of club speed [%]."""
        return 100.0 * self.by_measurement["club_speed_mps"].amount


STARTING = Worths(WORTHWHILE, math.exp(PRIORS["scatter_side_m"].worthwhile / 100.0))


def squad_worthwhile(levels: NDArray[np.float64], starting: float) -> float:
    """Smallest worthwhile change of one quantity from the levels of a squad's players [change unit].

    Parameters
    ----------
    levels : (players,) array
        One level each; no missing values.
    starting : float
        Starting value.

    Notes
    -----
    0.2 times the standard deviation between players (1.4826 median absolute deviations), within 1 to 1.5 starting values: a
    mixed squad of beginners and professionals would otherwise call only huge changes worth while.

    Source: [Hopkins2004]. Checked: tests/unit/test_norms.py, tests/property/test_worthwhile.py
    """
    between = 1.4826 * float(np.median(np.abs(levels - np.median(levels))))
    return float(np.clip(SHARE_OF_SPREAD * between, RANGE[0] * starting, RANGE[1] * starting))


def worths_in_force(norms: pl.DataFrame, club_group: str, on: dt.date, carry_m: float | None = None) -> Worths:
    """What is worthwhile for a club on a day: the squad's values of that quarter, starting values where there are none.

    Parameters
    ----------
    norms : polars.DataFrame
        metric, club_group, from_on, worthwhile: rows of ``trend_norm``.
    club_group : str
    on : datetime.date
        A trial takes its first day for all of its shots.
    carry_m : float or None
        At which a distance to the side is the angle that flags read; None: the starting value holds.

    Returns
    -------
    Worths

    Notes
    -----
    To the side: ``carry tan(worthwhile angle)``.
    Source: own rule. Checked: tests/property/test_worthwhile.py
    """
    begun = norms.filter(pl.col("club_group") == club_group, pl.col("from_on") <= on).sort("from_on")
    values = dict(begun.group_by("metric", maintain_order=True).agg(pl.col("worthwhile").last()).rows())
    found = dict(WORTHWHILE)
    for measurement, metric in FOLLOWED_AS.items():
        if metric in values:
            amount = values[metric] / 100.0 if measurement in SHARES else values[metric]
            found[measurement] = replace(found[measurement], amount=amount)
    if carry_m is not None and "aim_deg" in values:
        found["offline_m"] = replace(found["offline_m"], amount=carry_m * math.tan(math.radians(values["aim_deg"])))
    side = values.get("scatter_side_m", PRIORS["scatter_side_m"].worthwhile)
    return Worths(MappingProxyType(found), math.exp(side / 100.0))
