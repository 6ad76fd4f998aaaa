"""What ball and device do to carry and to ball speed, learned from the shots themselves.

Only shots struck before a given day count; where too few tell, a factor is 1 and said to be unknown.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from math import exp

import numpy as np
import polars as pl
from numpy.typing import NDArray

REFERENCE_BALL = "premium"
FEWEST_PER_CELL = 10
FEWEST_SHOTS = 60
SPEED_ELASTICITY = 1.2
"""Per cent of carry for a per cent of ball speed, from the flight model (drivers 1.1 to 1.3)."""
WIDEST_LOG = 0.25
"""Shots whose measured carry is more than a quarter off the model are misread or mishit and teach nothing."""

FACTOR_SOURCES: dict[str, str] = {
    "set": "set in academy.toml",
    "learned": "learned from players who hit this and the reference ball with the same club",
    "reference": "the reference ball, or no other ball to compare with",
    "none": "unknown: too few shots of this and of the reference ball by the same players",
}

_SCHEMA = {
    "month_on": pl.Date(),
    "device_id": pl.String(),
    "ball": pl.String(),
    "factor": pl.Float64(),
    "factor_source": pl.String(),
    "n_shots": pl.Int64(),
    "speed_factor": pl.Float64(),
    "speed_factor_source": pl.String(),
    "n_speed_shots": pl.Int64(),
    "model_level": pl.Float64(),
    "known_on": pl.Date(),
}
Learned = dict[tuple[str, str], tuple[float, int]]


def ball_factors(modelled: pl.DataFrame, chosen: Mapping[str, float]) -> pl.DataFrame:
    """Carry and speed ratio of each ball on each device over those of the reference ball, month by month.

    Parameters
    ----------
    modelled : polars.DataFrame
        From :func:`pipelines.measures.carry.comparable.modelled_shots`.
    chosen : mapping
        Device id to the carry of its range balls over premium balls that the academy has set.

    Returns
    -------
    polars.DataFrame
        month_on, device_id, ball, factor (of carry), factor_source, n_shots, speed_factor (of ball speed over club speed),
        speed_factor_source, n_speed_shots, model_level (see :func:`model_levels`) and known_on; one row per month, device and
        ball of each month with shots. Sources: :data:`FACTOR_SOURCES`. ``known_on`` is the first month at whose end both
        factors were known, null until then.

    Notes
    -----
    The reference is the premium ball on the device that has seen most of it. Speed ratio, and
    ``ln(carry/model) + 1.2 ln(speed ratio)`` for carry (ball speed and flight together), are split by least squares into
    a part of player and club and a part of device and ball; only players who hit both sides of a comparison tell something.
    Indoors a premium ball counts as flown at the model's level. A device's own error in club speed is part of its speed factor,
    and 1.2 times that of its carry factor. The factor of a month is learned from all shots up to its end, so later months never
    change it; a month before the first that knows a factor takes that one, and says so by ``known_on``.
    Checked: tests/property/test_carry.py.
    """
    counted = modelled.filter(pl.col("counts")).with_columns(pl.col("on_date").dt.truncate("1mo").alias("month_on"))
    months = modelled.select(pl.col("on_date").dt.truncate("1mo")).to_series().unique().sort().to_list()
    levels = model_levels(counted, months)
    speed = _by_month(_cells(counted, _speed_level()), months)
    level = pl.col("month_on").replace_strict(levels, default=1.0, return_dtype=pl.Float64())
    carry = _by_month(_cells(counted, _carry_level(level)), months)
    pairs = list(modelled.select("device_id", "ball").unique().sort("device_id", "ball", nulls_last=True).iter_rows())
    rows = []
    for month in months:
        for device, ball in pairs:
            carried = _carry_factor(device, ball, carry[month].get((device, ball)), chosen)
            rows.append((month, device, ball, *carried, *_learned_factor(ball, speed[month].get((device, ball))), levels[month]))
    return _filled(pl.DataFrame(rows, schema=list(_SCHEMA.items())[:-1], orient="row"))


def _filled(factors: pl.DataFrame) -> pl.DataFrame:
    """Months before the first that knows a factor take that one."""
    pair = ["device_id", "ball"]
    known = (pl.col("factor_source") != "none") & (pl.col("speed_factor_source") != "none")
    return (
        factors.sort("device_id", "ball", "month_on", nulls_last=True)
        .with_columns(pl.col("month_on").filter(known).min().over(pair).alias("known_on"))
        .with_columns(_from_later("factor", pair), _from_later("speed_factor", pair))
        .with_columns(_from_later(f"{name}_source", pair, name) for name in ("factor", "speed_factor"))
    )


def _from_later(column: str, pair: list[str], factor: str | None = None) -> pl.Expr:
    source = f"{factor or column}_source"
    known = pl.when(pl.col(source) != "none").then(pl.col(column))
    return known.backward_fill().over(pair).fill_null(pl.col(column)).alias(column)


def _by_month(cells: pl.DataFrame, months: Sequence[date]) -> dict[date, Learned]:
    """What is learned from the cells of each month and all before it."""
    keys = ["player_id", "club", "device_id", "ball"]
    found = {}
    for month in months:
        summed = cells.filter(pl.col("month_on") <= month).group_by(keys, maintain_order=True).agg(pl.col("total", "n").sum())
        known = summed.filter(pl.col("n") >= FEWEST_PER_CELL).with_columns((pl.col("total") / pl.col("n")).alias("level"))
        found[month] = _additive(known.sort(keys))
    return found


def _speed_level() -> pl.Expr:
    return (pl.col("ball_speed_mps") / pl.col("club_speed_mps")).log()


def _off_the_model() -> pl.Expr:
    return (pl.col("carry_m") / pl.col("day_carry_m")).log()


def _near_the_model() -> pl.Expr:
    return (pl.col("carry_m") > 0.0) & (_off_the_model().abs() < WIDEST_LOG)


def _carry_level(level: pl.Expr) -> pl.Expr:
    computed = (
        pl.col("indoors").fill_null(value=False) & pl.col("model_carry_m").is_not_null() & (pl.col("ball") == REFERENCE_BALL)
    )
    off = pl.when(computed).then(level.log()).when(_near_the_model()).then(_off_the_model())
    return off + SPEED_ELASTICITY * _speed_level()


def _carry_factor(
    device: str | None, ball: str | None, learned: tuple[float, int] | None, chosen: Mapping[str, float]
) -> tuple[float, str, int]:
    if ball == "range" and device is not None and device in chosen:
        return float(chosen[device]), "set", 0
    return _learned_factor(ball, learned)


def _learned_factor(ball: str | None, learned: tuple[float, int] | None) -> tuple[float, str, int]:
    if learned is None:
        return 1.0, "reference" if ball == REFERENCE_BALL else "none", 0
    level, n = learned
    if n >= FEWEST_SHOTS:
        return exp(level), "reference" if level == 0.0 else "learned", n
    return 1.0, "none", n


def _cells(shots: pl.DataFrame, level: pl.Expr) -> pl.DataFrame:
    """Sum of levels and number of shots by player, club, device, ball and month."""
    return (
        shots.filter(pl.col("ball").is_not_null(), pl.col("device_id").is_not_null())
        .select("player_id", "club", "device_id", "ball", "month_on", level.alias("level"))
        .filter(pl.col("level").is_finite())
        .group_by("player_id", "club", "device_id", "ball", "month_on", maintain_order=True)
        .agg(pl.col("level").sum().alias("total"), pl.len().cast(pl.Int64).alias("n"))
    )


def _additive(cells: pl.DataFrame) -> Learned:
    """Level of each device and ball against the reference, with the shots of players who tell; two-way least squares."""
    premium = cells.filter(pl.col("ball") == REFERENCE_BALL).group_by("device_id").agg(pl.col("n").sum())
    if premium.is_empty():
        return {}
    reference = (premium.sort("n", "device_id", descending=[True, False])["device_id"][0], REFERENCE_BALL)
    swing, kinds = _codes(cells, ["player_id", "club"]), _codes(cells, ["device_id", "ball"])
    names = list(cells.select("device_id", "ball").unique(maintain_order=True).iter_rows())
    shared = _shared(cells)
    levels = _two_way(cells["level"].to_numpy(), cells["n"].to_numpy().astype(np.float64), swing, kinds)
    zero = levels[names.index(reference)]
    return {
        name: (0.0 if name == reference else float(level - zero), shared.get(name, 0) if name != reference else FEWEST_SHOTS)
        for name, level in zip(names, levels, strict=True)
    }


def _codes(cells: pl.DataFrame, columns: list[str]) -> NDArray[np.intp]:
    order = cells.select(columns).unique(maintain_order=True).with_row_index("code")
    return cells.join(order, on=columns, how="left", maintain_order="left")["code"].to_numpy().astype(np.intp)


def _shared(cells: pl.DataFrame) -> dict[tuple[str, str], int]:
    """Shots of each device and ball by players who hit something else with the same club as well."""
    several = cells.filter(pl.len().over("player_id", "club") > 1)
    return {
        (device, ball): int(n) for device, ball, n in several.group_by("device_id", "ball").agg(pl.col("n").sum()).iter_rows()
    }


def _two_way(
    level: NDArray[np.float64], weight: NDArray[np.float64], swing: NDArray[np.intp], kind: NDArray[np.intp]
) -> NDArray[np.float64]:
    n_swings, n_kinds = int(swing.max()) + 1, int(kind.max()) + 1
    design = np.zeros((level.size, n_swings + n_kinds))
    design[np.arange(level.size), swing] = 1.0
    design[np.arange(level.size), n_swings + kind] = 1.0
    root = np.sqrt(weight)
    solved = np.linalg.lstsq(design * root[:, None], level * root, rcond=None)[0]
    return np.asarray(solved[n_swings:], dtype=np.float64)


def model_levels(counted: pl.DataFrame, months: Sequence[date]) -> dict[date, float]:
    """Measured carry of premium balls outdoors over the model in the air of the day, by month; 1 below 60 shots so far.

    Puts computed carries (indoors, or no carry measured) on the level of measured ones: a ball differs from the model's by
    up to 4 %. Each month learns from all shots up to its end; a month before the first level takes that one.
    Source: [BallToBall]. Checked: tests/property/test_carry.py.
    """
    measured = ~pl.col("indoors").fill_null(value=False) & (pl.col("ball") == REFERENCE_BALL) & _near_the_model()
    known = counted.filter(measured).select("month_on", _off_the_model().alias("off"))
    so_far = {month: known.filter(pl.col("month_on") <= month)["off"] for month in months}
    levels = {month: exp(float(off.to_numpy().mean())) for month, off in so_far.items() if off.len() >= FEWEST_SHOTS}
    first = levels[min(levels)] if levels else 1.0
    return {month: levels.get(month, first) for month in months}
