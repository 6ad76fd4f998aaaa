"""What a ball and a device do to carry: range ball over premium ball by device, and measured carry over the model.

Learned from the shots themselves, only from those struck before a given day; said to be unknown where too few tell.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from math import exp

import polars as pl

REFERENCE_BALL = "premium"
FEWEST_PER_CELL = 10
FEWEST_SHOTS = 30
SPEED_ELASTICITY = 1.2
"""Per cent of carry for a per cent of ball speed, from the flight model (drivers 1.1 to 1.3)."""
WIDEST_LOG = 0.25
"""Shots whose measured carry is more than a quarter off the model are misread or mishit and teach nothing."""

FACTOR_SOURCES: dict[str, str] = {
    "set": "set in academy.toml",
    "learned": "learned from players who hit both balls with the same club on this device",
    "reference": "the reference ball",
    "none": "unknown: too few shots of both balls, so carries of this ball are not raised",
}


def ball_factors(modelled: pl.DataFrame, before: date, chosen: Mapping[str, float]) -> pl.DataFrame:
    """Carry of each ball over that of a premium ball, by device, as known on a day.

    Parameters
    ----------
    modelled : polars.DataFrame
        From :func:`pipelines.measures.carry.comparable.modelled_shots`.
    before : date
        Only shots of earlier days count.
    chosen : mapping
        Device id to a factor for its range balls that the academy has set.

    Returns
    -------
    polars.DataFrame
        device_id, ball, factor, n_shots, factor_source (see :data:`FACTOR_SOURCES`), one row per device and ball that occur.
        An unknown factor is 1 with source ``none``: never silent.

    Notes
    -----
    ``ln(carry/model) + 1.2 ln(ball/club speed)`` compared between balls within player, club and device, weighted by the
    harmonic number of shots: the ball's lower speed and its flight together. Checked: tests/property/test_carry.py.
    """
    pairs = modelled.select("device_id", "ball").unique().sort("device_id", "ball", nulls_last=True)
    learned = _learned(_levels(modelled, before))
    rows = [(device, ball, *_factor(device, ball, learned.get((device, ball)), chosen)) for device, ball in pairs.iter_rows()]
    schema = {
        "device_id": pl.String(),
        "ball": pl.String(),
        "factor": pl.Float64(),
        "n_shots": pl.Int64(),
        "factor_source": pl.String(),
    }
    return pl.DataFrame(rows, schema=schema, orient="row")


def _factor(
    device: str | None, ball: str | None, learned: tuple[float, int] | None, chosen: Mapping[str, float]
) -> tuple[float, int, str]:
    if ball == REFERENCE_BALL:
        return 1.0, 0, "reference"
    if ball == "range" and device is not None and device in chosen:
        return float(chosen[device]), 0, "set"
    if learned is not None and learned[1] >= FEWEST_SHOTS:
        return exp(learned[0]), learned[1], "learned"
    return 1.0, 0 if learned is None else learned[1], "none"


def _levels(modelled: pl.DataFrame, before: date) -> pl.DataFrame:
    off = pl.col("carry_m").log() - pl.col("day_carry_m").log()
    speed_ratio = (pl.col("ball_speed_mps") / pl.col("club_speed_mps")).log()
    return (
        modelled.filter(
            pl.col("day_carry_m").is_not_null(),
            pl.col("carry_m") > 0.0,
            pl.col("club_speed_mps").is_not_null(),
            pl.col("on_date") < before,
            pl.col("ball").is_not_null(),
        )
        .filter(off.abs() < WIDEST_LOG)
        .with_columns((off + SPEED_ELASTICITY * speed_ratio).alias("level"))
    )


def _learned(levels: pl.DataFrame) -> dict[tuple[str | None, str | None], tuple[float, int]]:
    cells = levels.group_by("device_id", "player_id", "club", "ball").agg(pl.col("level").mean(), pl.len().alias("n"))
    cells = cells.filter(pl.col("n") >= FEWEST_PER_CELL)
    premium = cells.filter(pl.col("ball") == REFERENCE_BALL).drop("ball")
    both = cells.filter(pl.col("ball") != REFERENCE_BALL).join(premium, on=["device_id", "player_id", "club"], nulls_equal=True)
    weight = 2.0 * pl.col("n") * pl.col("n_right") / (pl.col("n") + pl.col("n_right"))
    pooled = (
        both.with_columns(weight.alias("weight"), (pl.col("level") - pl.col("level_right")).alias("difference"))
        .group_by("device_id", "ball")
        .agg(
            (pl.col("difference") * pl.col("weight")).sum() / pl.col("weight").sum(),
            pl.col("n").sum().cast(pl.Int64),
        )
    )
    return {(device, ball): (value, n) for device, ball, value, n in pooled.iter_rows()}


def model_level(modelled: pl.DataFrame, before: date) -> float:
    """Measured carry of premium balls outdoors over the model in the air of the day; 1 below 30 shots.

    Puts computed carries (indoors, or no carry measured) on the level of measured ones: a ball differs from the model's by
    up to 4 %. Source: [BallToBall]. Checked: tests/property/test_carry.py.
    """
    off = modelled.filter(
        pl.col("day_carry_m").is_not_null(), pl.col("carry_m") > 0.0, pl.col("on_date") < before, pl.col("ball") == REFERENCE_BALL
    ).select((pl.col("carry_m") / pl.col("day_carry_m")).log().alias("off"))["off"]
    off = off.filter(off.abs() < WIDEST_LOG)
    return exp(float(off.median() or 0.0)) if off.len() >= FEWEST_SHOTS else 1.0  # type: ignore[arg-type]
