"""Quantities whose trend is followed, with the unit of a value and the unit in which its changes are given."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True)
class TrendMetric:
    """One quantity.

    Attributes
    ----------
    name : str
    unit : str
        Of a value.
    change_unit : str
        ``%`` where changes are relative; ``points`` where a share is told in percentage points; else the unit.
    title : str
    """

    name: str
    unit: str
    change_unit: str
    title: str

    @property
    def is_relative(self) -> bool:
        """Whether changes are given in per cent."""
        return self.change_unit == "%"


TREND_METRICS: MappingProxyType[str, TrendMetric] = MappingProxyType(
    {
        metric.name: metric
        for metric in (
            TrendMetric("club_speed_mps", "m/s", "%", "club speed"),
            TrendMetric("ball_speed_mps", "m/s", "%", "ball speed"),
            TrendMetric("speed_ratio", "", "%", "speed ratio (ball over club)"),
            TrendMetric("comparable_carry_m", "m", "%", "carry, made comparable where that could be done"),
            TrendMetric("scatter_side_m", "m", "%", "scatter left-right (standard deviation of the core)"),
            TrendMetric("scatter_long_m", "m", "%", "scatter long-short (standard deviation of the core)"),
            TrendMetric("wild_pct", "%", "points", "share of wild shots"),
            TrendMetric("aim_deg", "deg", "deg", "middle of the pattern, right of target"),
            TrendMetric("strike_spread_mm", "mm", "%", "spread of the strike, heel to toe"),
            TrendMetric("attack_deg", "deg", "deg", "attack"),
            TrendMetric("launch_deg", "deg", "deg", "launch"),
            TrendMetric("spin_rpm", "rpm", "%", "spin"),
        )
    }
)
"""By name."""

RELATIVE: tuple[str, ...] = tuple(name for name, metric in TREND_METRICS.items() if metric.is_relative)
"""Those of which changes are given in per cent."""
