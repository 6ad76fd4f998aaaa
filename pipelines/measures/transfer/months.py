"""Transfer month by month: what has become of club speed on its way to carry since the player's reference months."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from pipelines.measures.carry import OTHER_MODELS
from pipelines.measures.grouping import by_group
from pipelines.measures.impact import off_centre_loss
from pipelines.measures.reference_months import with_reference
from pipelines.measures.transfer.decomposition import Delivery, Transfer, transfers
from pipelines.measures.transfer.strike import strike_factors, strike_sums

if TYPE_CHECKING:
    from collections.abc import Mapping
    from typing import Any

FEWEST_SHOTS = 10
FEWEST_STRIKES = 10
LOW_Z = 1.6449

TRANSFER_READS: tuple[str, ...] = (
    *("session_id", "player_id", "on_date", "club", "club_group", "carry_m", "club_speed_mps", "comparable_speed_ratio"),
    *("launch_deg", "spin_rpm", "strike_side_mm", "strike_height_mm", "is_factor_known", "device_id"),
    *(f"carry_{name}_m" for name in OTHER_MODELS),
)

REASONS: dict[str, str] = {
    "too_few_shots": "fewer than 10 shots with club speed, ball speed and launch",
    "no_reference": "no month of this player, at least 3 months earlier, to compare with",
    "flight_out_of_range": "the mean delivery lies outside the flight model's range",
}

_OTHER_CARRIES = tuple(f"carry_{name}_m" for name in OTHER_MODELS)
_MEDIANS = ("club_speed_mps", "speed_ratio", "launch_deg", "spin_rpm", "carry_m", *_OTHER_CARRIES)
_WITH_ERROR = {"club_speed_mps": "club_speed_error_mps", "carry_m": "carry_error_m"}
_LEVELS = (*_MEDIANS, "rigid_loss")
_PARTS = ("on_offer_m", "strike_m", "speed_ratio_m", "launch_m", "spin_m", "rest_m", "carry_change_m", "arrived_share")


def transfer_by_month(levels: pl.DataFrame, schema: dict[str, pl.DataType], asked: pl.DataFrame | None = None) -> pl.DataFrame:
    """The decomposition of the change of carry since the reference months, for each player, club and month.

    Parameters
    ----------
    levels : polars.DataFrame
        From :func:`transfer_levels`: all months of each player and club up to the last that is asked for.
    schema : dict
        Columns and types of the result, in order.
    asked : polars.DataFrame, optional
        player_id, month_on: only these months are told; the others are what they are held against.

    Returns
    -------
    polars.DataFrame
        One row per player, club and month. Without enough shots or a reference the parts are null, with a reason of
        :data:`REASONS`.

    Notes
    -----
    Reference: see :mod:`pipelines.measures.reference_months`; means of months weighted by shots. A strike's loss is that of a
    rigid head times the factor of :func:`strike_factors`, the same for both sides of a comparison. Model errors are standard
    deviations over three published sets of drag and lift.
    Checked: tests/property/test_transfer.py.
    """
    known = levels.join(strike_factors(levels), on=["player_id", "club", "month_on"], how="left").sort(
        "player_id", "club", "month_on"
    )
    known = known.with_columns((pl.col("rigid_loss") * pl.col("strike_factor")).alias("strike_loss"))
    referred = with_reference(known, ["player_id", "club"], (*_LEVELS, *_WITH_ERROR.values()), "n_shots")
    if asked is not None:
        referred = referred.join(asked, on=["player_id", "month_on"], how="semi", maintain_order="left")
    whole = [row for row in referred.iter_rows(named=True) if _reason(row) == ""]
    found = dict(zip([_key(row) for row in whole], transfers([_pair(row) for row in whole]), strict=True))
    whole_rows = [row | _parts(row, found) | _model_errors(row) for row in referred.iter_rows(named=True)]
    rows = [row | _interval(row) for row in whole_rows]
    table = pl.DataFrame(rows, schema_overrides=schema, infer_schema_length=None) if rows else pl.DataFrame(schema=schema)
    return table.select(pl.col(name).cast(kind) for name, kind in schema.items()).sort("player_id", "club", "month_on")


def transfer_levels(shots: pl.DataFrame) -> pl.DataFrame:
    """What a month tells of each player and club by itself: means over sessions of the sessions' medians, weighted by shots.

    Parameters
    ----------
    shots : polars.DataFrame
        Columns :data:`TRANSFER_READS`, counting shots of the player's normal swing, carry comparable, speed ratio restated for
        the reference ball; null where there is none.

    Returns
    -------
    polars.DataFrame
        Rows of ``transfer_level``: one per player, club and month with a shot of which club speed, ball speed and launch are
        known; what is said of one does not depend on others.

    Notes
    -----
    Errors are those between sessions, so that good and bad days are in them.

    Source: own rule. Checked: tests/property/test_transfer.py.
    """
    keys = ["player_id", "club", "club_group", "month_on"]
    whole = pl.all_horizontal(pl.col("club_speed_mps", "comparable_speed_ratio", "launch_deg").is_not_null())
    known = shots.filter(whole).with_columns(
        pl.col("on_date").dt.truncate("1mo").alias("month_on"),
        pl.col("comparable_speed_ratio").alias("speed_ratio"),
    )
    known = known.with_columns(_rigid_loss(known))
    sessions = by_group(known, [*keys, "session_id"]).agg(
        pl.len().cast(pl.Int64).alias("n"),
        pl.col(_MEDIANS).median(),
        pl.col("rigid_loss").mean(),
        pl.col("rigid_loss").count().alias("n_strikes"),
        pl.col("is_factor_known").all(),
        pl.col("device_id").drop_nulls().first(),
    )
    return (
        by_group(sessions, keys)
        .agg(
            pl.col("n").sum().alias("n_shots"),
            pl.len().cast(pl.Int64).alias("n_sessions"),
            *(_by_shots(name).alias(name) for name in _MEDIANS),
            *(_between(name).alias(error) for name, error in _WITH_ERROR.items()),
            pl.when(pl.col("n_strikes").sum() >= FEWEST_STRIKES).then(_by_shots("rigid_loss")).alias("rigid_loss"),
            pl.col("is_factor_known").all(),
            pl.col("device_id").drop_nulls().mode(maintain_order=True).first(),
        )
        .join(strike_sums(known), on=["player_id", "club", "month_on"], how="left")
        .sort("player_id", "club", "month_on")
    )


def _by_shots(name: str) -> pl.Expr:
    weight = pl.col("n").filter(pl.col(name).is_not_null()).sum()
    return pl.when(weight > 0).then((pl.col(name) * pl.col("n")).sum() / weight)


def _between(name: str) -> pl.Expr:
    count = pl.col(name).count()
    return pl.when(count >= 3).then(pl.col(name).std() / count.sqrt())


def _rigid_loss(shots: pl.DataFrame) -> pl.Series:
    """Share of ball speed that each strike off the middle would cost a rigid head; null where the strike was not measured."""
    distance = np.hypot(shots["strike_side_mm"].to_numpy(), shots["strike_height_mm"].to_numpy())
    return pl.Series("rigid_loss", off_centre_loss(distance), nan_to_null=True)


def _reason(row: Mapping[str, Any]) -> str:
    if row["n_shots"] < FEWEST_SHOTS or row["spin_rpm"] is None:
        return "too_few_shots"
    if row["reference_club_speed_mps"] is None or row["reference_spin_rpm"] is None:
        return "no_reference"
    return ""


def _key(row: Mapping[str, Any]) -> tuple[Any, ...]:
    return row["player_id"], row["club"], row["month_on"]


def _pair(row: Mapping[str, Any]) -> tuple[Delivery, Delivery]:
    return _delivery(row, "reference_"), _delivery(row, "")


def _delivery(row: Mapping[str, Any], prefix: str) -> Delivery:
    levels = {name: row[f"{prefix}{name}"] for name in _LEVELS}
    return Delivery(
        levels["club_speed_mps"],
        levels["speed_ratio"],
        levels["launch_deg"],
        levels["spin_rpm"],
        None if levels["rigid_loss"] is None else levels["rigid_loss"] * row["strike_factor"],
        levels["carry_m"],
    )


def _model_errors(row: Mapping[str, Any]) -> dict[str, float | None]:
    """Standard deviation over the sets of coefficients, of the month's carry and of its change."""
    now = [row[name] for name in ("carry_m", *_OTHER_CARRIES)]
    before = [row[f"reference_{name}"] for name in ("carry_m", *_OTHER_CARRIES)]
    change = None if None in now or None in before else float(np.std(np.subtract(now, before), ddof=1))
    return {
        "carry_model_error_m": None if None in now else float(np.std(now, ddof=1)),
        "carry_change_model_error_m": change,
    }


def _interval(row: Mapping[str, Any]) -> dict[str, float | None]:
    """90 % interval of the change of carry: sessions of both sides, and the models; null where a side has fewer than three."""
    parts = [row[name] for name in ("carry_error_m", "reference_carry_error_m", "carry_change_model_error_m")]
    if row["carry_change_m"] is None or None in parts:
        return {"carry_change_low_m": None, "carry_change_high_m": None}
    away = LOW_Z * math.hypot(*parts)
    return {"carry_change_low_m": row["carry_change_m"] - away, "carry_change_high_m": row["carry_change_m"] + away}


def _parts(row: Mapping[str, Any], found: Mapping[tuple[Any, ...], Transfer | None]) -> dict[str, Any]:
    reason = _reason(row)
    done = found.get(_key(row))
    if done is None:
        return dict.fromkeys((*_PARTS, "strike_known")) | {"reason": reason or "flight_out_of_range"}
    return {name: getattr(done, name) for name in (*_PARTS, "strike_known")} | {"reason": ""}
