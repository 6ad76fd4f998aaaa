"""What ball and device do to carry and to ball speed, learned from the shots themselves.

Only shots struck before a given day count; where too few tell, a factor is 1 and said to be unknown.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from math import exp, log

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
    "device_id": pl.String(),
    "ball": pl.String(),
    "factor": pl.Float64(),
    "factor_source": pl.String(),
    "n_shots": pl.Int64(),
    "speed_factor": pl.Float64(),
    "speed_factor_source": pl.String(),
    "n_speed_shots": pl.Int64(),
}


def ball_factors(modelled: pl.DataFrame, before: date, chosen: Mapping[str, float]) -> pl.DataFrame:
    """Carry and speed ratio of each ball on each device over those of the reference ball, as known on a day.

    Parameters
    ----------
    modelled : polars.DataFrame
        From :func:`pipelines.measures.carry.comparable.modelled_shots`.
    before : date
        Only shots of earlier days count.
    chosen : mapping
        Device id to the carry of its range balls over premium balls that the academy has set.

    Returns
    -------
    polars.DataFrame
        device_id, ball, factor (of carry), factor_source, n_shots, speed_factor (of ball speed over club speed),
        speed_factor_source, n_speed_shots; one row per device and ball that occur. Sources: :data:`FACTOR_SOURCES`.

    Notes
    -----
    The reference is the premium ball on the device that has seen most of it. Speed ratio, and
    ``ln(carry/model) + 1.2 ln(speed ratio)`` for carry (ball speed and flight together), are split by least squares into
    a part of player and club and a part of device and ball; only players who hit both sides of a comparison tell something.
    Indoors a premium ball counts as flown at the level of :func:`model_level`. A device's own error in club speed is part of
    its speed factor, and 1.2 times that of its carry factor. Checked: tests/property/test_carry.py.
    """
    pairs = modelled.select("device_id", "ball").unique().sort("device_id", "ball", nulls_last=True)
    earlier = modelled.filter(pl.col("on_date") < before, pl.col("counts"))
    speed = _additive(_cells(earlier, _speed_level()))
    carry = _additive(_cells(earlier, _carry_level(model_level(modelled, before))))
    rows = []
    for device, ball in pairs.iter_rows():
        carried = _carry_factor(device, ball, carry.get((device, ball)), chosen)
        rows.append((device, ball, *carried, *_learned_factor(ball, speed.get((device, ball)))))
    return pl.DataFrame(rows, schema=_SCHEMA, orient="row")


def _speed_level() -> pl.Expr:
    return (pl.col("ball_speed_mps") / pl.col("club_speed_mps")).log()


def _off_the_model() -> pl.Expr:
    return (pl.col("carry_m") / pl.col("day_carry_m")).log()


def _near_the_model() -> pl.Expr:
    return (pl.col("carry_m") > 0.0) & (_off_the_model().abs() < WIDEST_LOG)


def _carry_level(level: float) -> pl.Expr:
    computed = (
        pl.col("indoors").fill_null(value=False) & pl.col("model_carry_m").is_not_null() & (pl.col("ball") == REFERENCE_BALL)
    )
    off = pl.when(computed).then(pl.lit(log(level))).when(_near_the_model()).then(_off_the_model())
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
    known = shots.filter(pl.col("ball").is_not_null(), pl.col("device_id").is_not_null()).select(
        "player_id", "club", "device_id", "ball", level.alias("level")
    )
    return (
        known.filter(pl.col("level").is_finite())
        .group_by("player_id", "club", "device_id", "ball")
        .agg(pl.col("level").median(), pl.len().alias("n"))
        .filter(pl.col("n") >= FEWEST_PER_CELL)
        .sort("player_id", "club", "device_id", "ball")
    )


def _additive(cells: pl.DataFrame) -> dict[tuple[str, str], tuple[float, int]]:
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


def model_level(modelled: pl.DataFrame, before: date) -> float:
    """Measured carry of premium balls outdoors over the model in the air of the day; 1 below 60 shots.

    Puts computed carries (indoors, or no carry measured) on the level of measured ones: a ball differs from the model's by
    up to 4 %. Source: [BallToBall]. Checked: tests/property/test_carry.py.
    """
    rows = modelled.filter(pl.col("on_date") < before, pl.col("ball") == REFERENCE_BALL, _near_the_model())
    off = rows.select(_off_the_model().alias("off"))["off"].to_numpy()
    return exp(float(np.median(off))) if off.size >= FEWEST_SHOTS else 1.0
