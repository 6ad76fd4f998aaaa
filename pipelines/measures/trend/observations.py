"""Session summaries as observations of the quantities that are followed, in units in which changes are given."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import polars as pl

from pipelines.measures.grouping import divided
from pipelines.measures.scatter.lost import with_lost_shots
from pipelines.measures.scatter.wild import MEAN_DEVIATION_TO_SD, with_wild_shots
from schemas.trend_metrics import RELATIVE, TREND_METRICS

KINDS: tuple[str, ...] = ("range", "test", "trial", "course")
"""Sessions that show a player's usual swing; speed work is meant to be faster than that."""

POOLED_SHOTS = 20.0
"""The squad's spread between shots counts like so many shots beside a session's own."""

FEWEST_SHOTS, FEWEST_FOR_SHARE = 3, 8

_CENTRES = {
    "club_speed_mps": "club_speed_mps",
    "ball_speed_mps": "ball_speed_mps",
    "speed_ratio": "speed_ratio",
    "comparable_carry_m": "carry_m",
    "attack_deg": "attack_deg",
    "launch_deg": "launch_deg",
    "spin_rpm": "spin_rpm",
}
SCATTERS = {"scatter_side_m": "offline_m", "scatter_long_m": "carry_m"}
"""Quantities that are scatter, and the measurement whose scatter they are."""

_READ: dict[str, tuple[str, ...]] = {
    **{metric: (source,) for metric, source in SCATTERS.items()},
    "aim_deg": ("offline_m", "carry_m"),
    "strike_spread_mm": ("strike_side_mm",),
    "wild_pct": ("offline_m", "speed_ratio"),
}
"""Measurements of whose summaries a quantity is made that is no centre of its own."""

_OF_SESSION = ("player_id", "club_group", "club", "session_id", "on_date", "device_id")
_ORDER = ("player_id", "club_group", "on_date", "session_id")

OBSERVED: tuple[str, ...] = (
    *_OF_SESSION,
    "session_kind",
    "is_usual_club",
    *(f"{name}_{of}" for name in dict.fromkeys((*_CENTRES.values(), "offline_m")) for of in ("n", "centre", "spread")),
    *(f"{name}_{of}" for name in SCATTERS.values() for of in ("log_mad", "scatter_n")),
    *("offline_m_wild_n", "offline_m_far", "offline_m_mad", "strike_side_mm_n", "strike_side_mm_spread"),
    *("speed_ratio_told_n", "speed_ratio_lost", "speed_ratio_lost_side"),
)
"""Columns of ``session_club`` of which the quantities are made."""


def usual_swings(summaries: pl.DataFrame) -> pl.DataFrame:
    """Summaries of the usual club of each group, speed work and putts left out; by player, group, day and session.

    Parameters
    ----------
    summaries : polars.DataFrame
        Rows of ``session_club``.

    Source: own rule. Checked: tests/unit/test_observations.py
    """
    usual = summaries.filter(pl.col("is_usual_club"), pl.col("session_kind").is_in(KINDS), pl.col("club_group") != "putter")
    return usual.sort(_ORDER)


def swings_for(swings: pl.DataFrame, metrics: Sequence[str]) -> pl.DataFrame:
    """The columns of usual swings of which some quantities are made: those of a large squad take a third of a kilobyte a session.

    Source: own rule. Checked: tests/unit/test_observations.py
    """
    read = tuple(f"{name}_" for metric in metrics for name in _READ.get(metric) or (metric, _CENTRES[metric]))
    return swings.select(name for name in swings.columns if name in _OF_SESSION or name.startswith(read))


def observations_of(swings: pl.DataFrame, metric: str) -> pl.DataFrame:
    """One row per session and group of clubs in which a quantity could be measured.

    Parameters
    ----------
    swings : polars.DataFrame
        From :func:`usual_swings`; where it has ``comparable_carry_m_n``, ``_centre`` and ``_spread``, those are used for carry.
    metric : str

    Returns
    -------
    polars.DataFrame
        player_id, club_group, club, session_id, on_date, device_id (empty when not named), metric, n (shots), x (value in the
        change unit: 100 times the logarithm for relative quantities), shot_sd (own spread in that unit, null for spreads and
        shares); of the share of wild shots median_off_m and far_off_m too, how far to a side shots ended [m], ratio_n, shots with
        a ratio of ball to club speed, and lost_side, how far to a side those that lost ball speed ended [robust standard
        deviations]. By player, group, day, session, as they are given.

    Notes
    -----
    At least 3 shots (a spread: as many as its summary asks for; spread of the strike, share of wild shots: 8). Aim is the angle
    of the middle of the pattern: ``atan(offline / carry)``.

    Source: own rule
    Checked: tests/unit/test_observations.py
    """
    if metric in _CENTRES:
        rows = _centre(swings, metric, _CENTRES[metric])
    elif metric in SCATTERS:
        rows = _scatter(swings, metric, SCATTERS[metric])
    else:
        rows = _OTHERS[metric](swings)
    return rows


def _rows(
    kept: pl.DataFrame, metric: str, n: pl.Expr, x: pl.Expr, shot_sd: pl.Expr, fewest: int, *beside: pl.Expr
) -> pl.DataFrame:
    return kept.select(
        *(pl.col(name) for name in _OF_SESSION[:-1]),
        pl.col("device_id").fill_null(""),
        pl.lit(metric).alias("metric"),
        n.cast(pl.Int64).alias("n"),
        x.cast(pl.Float64).alias("x"),
        shot_sd.cast(pl.Float64).alias("shot_sd"),
        *beside,
    ).filter(pl.col("n") >= fewest, pl.col("x").is_not_null(), pl.col("x").is_finite())


def _centre(kept: pl.DataFrame, metric: str, source: str) -> pl.DataFrame:
    name = metric if f"{metric}_centre" in kept.columns else source
    centre, spread = pl.col(f"{name}_centre"), pl.col(f"{name}_spread")
    if TREND_METRICS[metric].is_relative:
        centre, spread = 100.0 * centre.log(), 100.0 * spread / centre
    return _rows(kept, metric, pl.col(f"{name}_n"), centre, spread, FEWEST_SHOTS)


def _scatter(kept: pl.DataFrame, metric: str, source: str) -> pl.DataFrame:
    x = 100.0 * (pl.col(f"{source}_log_mad") + math.log(MEAN_DEVIATION_TO_SD))
    return _rows(kept, metric, pl.col(f"{source}_scatter_n"), x, pl.lit(None), 5)


def _aim(kept: pl.DataFrame) -> pl.DataFrame:
    offline, carry = pl.col("offline_m_centre"), pl.col("carry_m_centre")
    degrees = pl.arctan2(offline, carry) * (180.0 / math.pi)
    shot_sd = pl.col("offline_m_spread") / carry * (180.0 / math.pi)
    n = pl.min_horizontal("offline_m_n", "carry_m_n")
    return _rows(kept.filter(carry > 0), "aim_deg", n, degrees, shot_sd, FEWEST_SHOTS)


def _strike_spread(kept: pl.DataFrame) -> pl.DataFrame:
    spread = pl.col("strike_side_mm_spread")
    return _rows(kept.filter(spread > 0), "strike_spread_mm", pl.col("strike_side_mm_n"), 100.0 * spread.log(), pl.lit(None), 8)


def _wild(kept: pl.DataFrame) -> pl.DataFrame:
    n, wild = pl.col("offline_m_scatter_n"), pl.col("wild_n")
    kept = with_lost_shots(with_wild_shots(kept))
    beside = (
        pl.col("offline_m_mad").alias("median_off_m"),
        pl.col("offline_m_far").alias("far_off_m"),
        pl.col("speed_ratio_told_n").alias("ratio_n"),
        pl.col("lost_side"),
    )
    rows = _rows(kept.filter(wild.is_not_null()), "wild_pct", n, 100.0 * wild / n, pl.lit(None), FEWEST_FOR_SHARE, *beside)
    return rows.sort(_ORDER)  # shares are told club by club


_OTHERS: dict[str, Callable[[pl.DataFrame], pl.DataFrame]] = {
    "aim_deg": _aim,
    "strike_spread_mm": _strike_spread,
    "wild_pct": _wild,
}


def with_noise(observed: pl.DataFrame) -> pl.DataFrame:
    """Add ``noise``: the sampling variance of x from the shots of its session [change unit squared].

    Parameters
    ----------
    observed : polars.DataFrame
        With ``squad_shot_sd``, as known by the day of the session.

    Notes
    -----
    ``(20 s_squad**2 + (n - 1) s**2) / (19 + n) / n``; of a spread ``s_squad**2 / n``.

    Source: own rule
    Checked: tests/unit/test_observations.py
    """
    own = (pl.col("n") - 1) * pl.col("shot_sd") ** 2
    pooled = (POOLED_SHOTS * pl.col("squad_shot_sd") ** 2 + own) / (POOLED_SHOTS + pl.col("n") - 1)
    return observed.with_columns((pl.coalesce(pooled, pl.col("squad_shot_sd") ** 2) / pl.col("n")).alias("noise"))


def natural(x: pl.Expr, metric: pl.Expr) -> pl.Expr:
    """The value in the unit of its metric, from the change unit; a share lies within 0 and 100 %."""
    relative = metric.is_in(RELATIVE)
    share = metric.is_in([name for name, one in TREND_METRICS.items() if one.change_unit == "points"])
    return pl.when(relative).then(divided(x, 100.0).exp()).when(share).then(x.clip(0.0, 100.0)).otherwise(x)
