"""What ball and device do to carry and to ball speed, learned from the shots themselves.

Only shots struck before a given day count; where too few tell, a factor is 1 and said to be unknown.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from itertools import pairwise
from math import exp
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.estimates import Estimates, by_month
from pipelines.measures.grouping import by_group

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


def ball_cells(modelled: pl.DataFrame, ratios: pl.DataFrame) -> pl.DataFrame:
    """What the counting shots of each session and club tell of ball and device: sums and numbers of shots.

    Parameters
    ----------
    modelled : polars.DataFrame
        From :func:`pipelines.measures.carry.comparable.modelled_shots`.
    ratios : polars.DataFrame
        From :func:`pipelines.measures.carry.models.model_ratios`: ``NAME_still`` and ``NAME_day`` of other models.

    Returns
    -------
    polars.DataFrame
        player_id, session_id, club, device_id, ball, month_on, the ratios, and sums with their numbers: ``speed`` (logarithm of
        the speed ratio), ``near`` (measured carry over the model's with 1.2 times that), ``indoor`` (1.2 times that, of shots
        that count as flown at the model's level), ``off`` (measured carry of premium balls outdoors over the model's) and
        ``NAME_off`` (over that of another model); a row for every session, club, device and ball that was struck.

    Notes
    -----
    Source: own rule. Checked: tests/property/test_carry.py.
    """
    keys = ["player_id", "session_id", "club", "device_id", "ball", "month_on"]
    told = [name for name in ratios.columns if name not in keys]
    others = [name.removesuffix("_day") for name in told if name.endswith("_day")]
    dated = modelled.with_columns(pl.col("on_date").dt.truncate("1mo").alias("month_on"))
    joined = dated.join(ratios, on=["session_id", "club"], how="left", maintain_order="left")
    sums = (part for name, of in _sums(others).items() for part in _summed(name, *of))
    return by_group(joined.sort("session_id", "shot_no"), keys).agg(pl.col(told).first(), *sums).sort(keys, nulls_last=True)


def _sums(others: Sequence[str]) -> dict[str, tuple[pl.Expr, pl.Expr]]:
    """Name to what is summed, and over which shots."""
    is_premium = (pl.col("ball") == REFERENCE_BALL).fill_null(value=False)
    is_indoors = pl.col("indoors").fill_null(value=False)
    is_indoor = is_indoors & pl.col("model_carry_m").is_not_null() & is_premium
    speed, off, is_measured = _speed_level(), _off_the_model(), ~is_indoors & is_premium
    by_others = {f"{name}_off": off - pl.col(f"{name}_day").log() for name in others}
    return {
        "speed": (speed, pl.lit(value=True)),
        "near": (off + SPEED_ELASTICITY * speed, ~is_indoor & _is_near(off)),
        "indoor": (SPEED_ELASTICITY * speed, is_indoor),
        **{name: (told, is_measured & _is_near(told)) for name, told in {"off": off, **by_others}.items()},
    }


def _summed(name: str, told: pl.Expr, which: pl.Expr) -> tuple[pl.Expr, pl.Expr]:
    counting = told.filter(pl.col("counts") & which & told.is_finite())
    return counting.sum().alias(name), counting.len().cast(pl.Int64).alias(f"{name}_n")


def ball_factors(cells: pl.DataFrame, chosen: Mapping[str, float], estimates: Estimates | None = None) -> pl.DataFrame:
    """Carry and speed ratio of each ball on each device over those of the reference ball, month by month.

    Parameters
    ----------
    cells : polars.DataFrame
        From :func:`ball_cells`, of all sessions.
    chosen : mapping
        Device id to the carry of its range balls over premium balls that the academy has set.
    estimates : Estimates, optional
        Those of before.

    Returns
    -------
    polars.DataFrame
        month_on, device_id, ball, factor (of carry), factor_source, n_shots, speed_factor (of ball speed over club speed),
        speed_factor_source, n_speed_shots, model_level (see :func:`model_levels`) and known_on; one row per month, device and
        ball of each month with shots. Sources: :data:`FACTOR_SOURCES`. ``known_on`` is the first month in which both
        factors were known, null until then.

    Notes
    -----
    The reference is the premium ball on the device that has seen most of it. Speed ratio, and
    ``ln(carry/model) + 1.2 ln(speed ratio)`` for carry (ball speed and flight together), are split by least squares into
    a part of player and club and a part of device and ball; only players who hit both sides of a comparison tell something.
    Indoors a premium ball counts as flown at the model's level. A device's own error in club speed is part of its speed factor,
    and 1.2 times that of its carry factor. The factor of a month is what was known when it began, so that its own shots leave
    what was said of the day before as it was; where nothing was known then, what its own shots tell so far. A month before the
    first that knows a factor takes that one, and says so by ``known_on``.
    Checked: tests/property/test_carry.py.
    """
    months, known = cells["month_on"].unique().sort().to_list(), estimates or Estimates()
    levels, of_month = model_levels(cells, months), pl.col("month_on").replace_strict
    speed = _by_month(_told(cells, pl.col("speed"), pl.col("speed_n")), months, "speed", known)
    level = of_month(_at_end(cells, months), default=1.0, return_dtype=pl.Float64())
    total = pl.col("near") + pl.col("indoor") + pl.col("indoor_n") * level.log()
    carry = _by_month(_told(cells, total, pl.col("near_n") + pl.col("indoor_n")), months, "carry", known)
    pairs = list(cells.select("device_id", "ball").unique().sort("device_id", "ball", nulls_last=True).iter_rows())
    rows = []
    for before, month in pairwise([None, *months]):
        for device, ball in pairs:
            carried = _carry_factor(device, ball, _known(carry, before, month, (device, ball)), chosen)
            sped = _learned_factor(ball, _known(speed, before, month, (device, ball)))
            rows.append((month, device, ball, *carried, *sped, levels[month]))
    return _filled(pl.DataFrame(rows, schema=list(_SCHEMA.items())[:-1], orient="row"))


def _known(learned: Mapping[date, Learned], before: date | None, month: date, pair: tuple[str, str]) -> tuple[float, int] | None:
    """What was known of a ball on a device when the month began; where that was too little, what is known so far."""
    then = learned[before].get(pair) if before is not None else None
    return then if then is not None and then[1] >= FEWEST_SHOTS else learned[month].get(pair)


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


def _by_month(cells: pl.DataFrame, months: list[date], what: str, estimates: Estimates) -> dict[date, Learned]:
    """What is learned from the cells of each month and all before it."""
    found = by_month(estimates, f"{what} of balls", cells, months, _learned)
    return {
        month: {(device, ball): (level, n) for device, ball, level, n in one} for month, one in zip(months, found, strict=True)
    }


def _learned(cells: pl.DataFrame, month: date) -> list[list[Any]]:
    """Device, ball, level and number of shots, from the cells up to a month."""
    keys = ["player_id", "club", "device_id", "ball"]
    summed = cells.filter(pl.col("month_on") <= month).group_by(keys, maintain_order=True).agg(pl.col("total", "n").sum())
    known = summed.filter(pl.col("n") >= FEWEST_PER_CELL).with_columns((pl.col("total") / pl.col("n")).alias("level"))
    return [[*pair, *told] for pair, told in _additive(known.sort(keys)).items()]


def _speed_level() -> pl.Expr:
    return (pl.col("ball_speed_mps") / pl.col("club_speed_mps")).log()


def _off_the_model() -> pl.Expr:
    return (pl.col("carry_m") / pl.col("day_carry_m")).log()


def _is_near(off: pl.Expr) -> pl.Expr:
    return (pl.col("carry_m") > 0.0) & (off.abs() < WIDEST_LOG)


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


def _told(cells: pl.DataFrame, total: pl.Expr, n: pl.Expr) -> pl.DataFrame:
    """Sum of levels and number of shots of cells with a ball and a device."""
    named = cells.filter(pl.col("ball").is_not_null(), pl.col("device_id").is_not_null())
    return named.select("player_id", "club", "device_id", "ball", "month_on", total.alias("total"), n.alias("n")).filter(
        pl.col("n") > 0
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
    """Part of each kind by least squares; the part of each swing is solved for first, so that only the kinds are left."""
    n_swings, n_kinds = int(swing.max()) + 1, int(kind.max()) + 1
    of_swing = np.bincount(swing, weight, n_swings)
    mean = np.bincount(swing, weight * level, n_swings) / of_swing
    together = np.zeros((n_swings, n_kinds))
    np.add.at(together, (swing, kind), weight)
    information = np.diag(np.bincount(kind, weight, n_kinds)) - together.T @ (together / of_swing[:, None])
    right = np.bincount(kind, weight * (level - mean[swing]), n_kinds)
    return np.asarray(np.linalg.pinv(information, rcond=1e-10, hermitian=True) @ right, dtype=np.float64)


def model_levels(cells: pl.DataFrame, months: Sequence[date], off: str = "off") -> dict[date, float]:
    """Measured carry of premium balls outdoors over the model in the air of the day, by month; 1 below 60 shots so far.

    ``off`` names the sum of :func:`ball_cells`: over which model. Puts computed carries (indoors, or no carry measured) on the
    level of measured ones: a ball differs from the model's by up to 4 %. A month has what was known when it began, else what it
    tells so far; one before the first level takes that one.
    Source: [BallToBall]. Checked: tests/property/test_carry.py.
    """
    known = _levels(cells, months, off)
    first = known[min(known)] if known else 1.0
    found = {month: known.get(month, first) for month in months}
    return found | {month: known[before] for before, month in pairwise(months) if before in known}


def _at_end(cells: pl.DataFrame, months: Sequence[date]) -> dict[date, float]:
    """The level as known at the end of each month."""
    known = _levels(cells, months)
    first = known[min(known)] if known else 1.0
    return {month: known.get(month, first) for month in months}


def _levels(cells: pl.DataFrame, months: Sequence[date], off: str = "off") -> dict[date, float]:
    """The level of all shots up to the end of each month in which there were enough by then."""
    columns = [off, f"{off}_n"]
    by_month = cells.group_by("month_on", maintain_order=True).agg(pl.col(columns).sum()).sort("month_on")
    running = by_month.with_columns(pl.col(columns).cum_sum()).filter(pl.col(f"{off}_n") >= FEWEST_SHOTS)
    found = {month: exp(total / n) for month, total, n in running.select("month_on", *columns).iter_rows()}
    return {month: found[month] for month in months if month in found}
