"""The kinds of flag that read charts of session values: which charts, which side, and how much each asks for."""

from __future__ import annotations

from dataclasses import dataclass

from pipelines.measures.trend.observations import SCATTERS

WORTH = 0.5
"""A notice needs a level that lies so many smallest worthwhile changes beyond the normal."""


@dataclass(frozen=True)
class ChartRule:
    """One kind of flag that reads one side of some charts.

    Attributes
    ----------
    kind : str
    metrics : tuple of str
    sides : tuple of {"up", "down"}
    opens_at : float
        One-sided chance of so large a sum when nothing has happened, at which a notice opens.
    worth : float
        For a notice the level must lie so many smallest worthwhile changes beyond the normal.
    alert_worth, alert_surely : float
        For an alert the level must lie so many smallest worthwhile changes beyond the normal, with this probability.
    moved_worth : float
        Of one who still grows, for an alert: the level lies surely so many smallest worthwhile changes below the best of the
        months before, or above those before by more than growth makes (:mod:`.moved`). 0: not asked.
    gain_worth : float
        Of the others, for an alert: so many were surely gained within eight weeks, where that is known. 0: not asked.
    by_shots : bool
        The metric is the share of wild shots: where it lies above the normal, how far out the shots lie is asked in place of the
        chart, and is enough for an alert (:mod:`.risen`).
    """

    kind: str
    metrics: tuple[str, ...]
    sides: tuple[str, ...]
    opens_at: float = 0.002
    worth: float = WORTH
    alert_worth: float = 1.0
    alert_surely: float = 0.95
    moved_worth: float = 0.0
    gain_worth: float = 0.0
    by_shots: bool = False


_SCATTER = tuple(SCATTERS)

CHART_RULES: tuple[ChartRule, ...] = (
    # A fall should be told early; a gain can wait until it is beyond doubt. Patterns wobble, and a windy week widens them: an
    # alert needs some 40 per cent more or less.
    ChartRule("speed_fall", ("club_speed_mps",), ("down",), opens_at=0.004, alert_worth=0.75, alert_surely=0.90, moved_worth=0.5),
    ChartRule("speed_rise", ("club_speed_mps",), ("up",), moved_worth=0.5, gain_worth=1.0),
    ChartRule("scatter_rise", _SCATTER, ("up",), opens_at=0.004, alert_worth=2.25, alert_surely=0.85),
    ChartRule("scatter_fall", _SCATTER, ("down",), opens_at=0.004, alert_worth=2.25, alert_surely=0.85),
    ChartRule("wild_rise", ("wild_pct",), ("up",), opens_at=0.004, worth=0.25, alert_worth=0.25, alert_surely=0.0, by_shots=True),
    ChartRule("aim_shift", ("aim_deg",), ("up", "down")),
)
