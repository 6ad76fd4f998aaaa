"""The same carries by other published coefficients of drag and lift: what the choice of the flight model is worth."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from pipelines.measures.carry.factors import model_levels
from pipelines.measures.flight import CoefficientSet, bearman_harvey_coefficients, fly, pooled_coefficients, usga_coefficients

if TYPE_CHECKING:
    from numpy.typing import NDArray

OTHER_MODELS: dict[str, CoefficientSet] = {"pooled": pooled_coefficients, "bearman_harvey": bearman_harvey_coefficients}
_MEANS = (
    *("ball_speed_mps", "launch_deg", "direction_deg", "spin_used_rpm", "spin_axis_deg"),
    *("air_density_kgpm3", "wind_mps", "wind_from_deg"),
)
_STEP_S = 0.4
"""Only ratios of flights are used: at this step they are within a ten-thousandth."""


def other_models(modelled: pl.DataFrame, reference_density_kgpm3: float, wind_height_m: float) -> pl.DataFrame:
    """How restated carry would change with other coefficients, by session and club, at the mean launch of its shots.

    Parameters
    ----------
    modelled : polars.DataFrame
        From :func:`pipelines.measures.carry.comparable.modelled_shots` with the default coefficients.
    reference_density_kgpm3, wind_height_m : float
        Of the academy's reference air [kg/m³], and height of its wind's measurement [m].

    Returns
    -------
    polars.DataFrame
        session_id, club, and for each of :data:`OTHER_MODELS` ``NAME_anchored`` and ``NAME_computed``: the carry with these
        coefficients over the carry with the default ones, when it is measured and restated, or computed from launch. Null where
        the mean launch has no flight.

    Notes
    -----
    A measured carry is multiplied by ``R = C(reference air)/C(day's air)`` and changes by the ratio of both sets' R. A computed
    one is C(reference air) at the level that measured carries have over the same set, so of the set only what its level does
    not take out remains. Flying the means of a session in place of its shots changes these ratios by about a thousandth.
    Source: [USPatent6186002], [PooledFit], [BearmanHarvey1976]. Checked: tests/property/test_carry.py.
    """
    flown = modelled.filter(pl.col("model_carry_m").is_not_null())
    means = (
        flown.group_by("session_id", "club", maintain_order=True)
        .agg(pl.col("on_date").first(), pl.col("indoors").first(), *(pl.col(name).cast(pl.Float64).mean() for name in _MEANS))
        .sort("session_id", "club")
    )
    columns: dict[str, pl.Series] = {}
    usual = _both_airs(means, reference_density_kgpm3, wind_height_m, usga_coefficients)
    for name, coefficients in OTHER_MODELS.items():
        still, day = (
            other / default
            for other, default in zip(_both_airs(means, reference_density_kgpm3, wind_height_m, coefficients), usual, strict=True)
        )
        columns[f"{name}_still"] = pl.Series(still).fill_nan(None)
        columns[f"{name}_day"] = pl.Series(day).fill_nan(None)
    found = means.select("session_id", "club").with_columns(**columns)
    return found.join(_levels(modelled, found), on=["session_id", "club"], how="left", maintain_order="left").select(
        "session_id",
        "club",
        *((pl.col(f"{name}_still") / pl.col(f"{name}_day")).alias(f"{name}_anchored") for name in OTHER_MODELS),
        *((pl.col(f"{name}_still") / pl.col(f"{name}_level")).alias(f"{name}_computed") for name in OTHER_MODELS),
    )


def _both_airs(
    means: pl.DataFrame, density: float, wind_height_m: float, coefficients: CoefficientSet
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Carry of the mean launches in the reference air and in the air of their day."""

    def values(name: str, missing: float) -> NDArray[np.float64]:
        return means[name].fill_null(missing).to_numpy()

    launch = (
        values("ball_speed_mps", np.nan),
        values("launch_deg", np.nan),
        values("direction_deg", 0.0),
        values("spin_used_rpm", np.nan),
        values("spin_axis_deg", 0.0),
    )
    outdoors = ~means["indoors"].fill_null(value=False).to_numpy()
    day_density = np.where(outdoors, values("air_density_kgpm3", np.nan), np.nan)
    wind = (values("wind_mps", 0.0), values("wind_from_deg", 0.0))
    still = fly(*launch, density, coefficients=coefficients, step_s=_STEP_S)
    day = fly(*launch, day_density, *wind, coefficients=coefficients, step_s=_STEP_S, wind_height_m=wind_height_m)
    return still.carry_m, day.carry_m


def _levels(modelled: pl.DataFrame, found: pl.DataFrame) -> pl.DataFrame:
    """Level of measured carries by the default set over that by each other, as known at the end of a session's month."""
    counted = (
        modelled.filter(pl.col("counts"))
        .join(found, on=["session_id", "club"], how="left", maintain_order="left")
        .with_columns(pl.col("on_date").dt.truncate("1mo").alias("month_on"))
    )
    months = modelled.select(pl.col("on_date").dt.truncate("1mo")).to_series().unique().sort().to_list()
    usual = model_levels(counted, months)
    own = modelled.select("session_id", "club", pl.col("on_date").dt.truncate("1mo").alias("month_on")).unique()
    for name in OTHER_MODELS:
        shifted = counted.filter(pl.col(f"{name}_day").is_not_null()).with_columns(pl.col("day_carry_m") * pl.col(f"{name}_day"))
        levels = model_levels(shifted, months)
        over = {month: usual[month] / levels[month] for month in months}
        own = own.with_columns(
            pl.col("month_on").replace_strict(over, default=1.0, return_dtype=pl.Float64()).alias(f"{name}_level")
        )
    return own.drop("month_on")
