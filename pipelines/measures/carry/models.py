"""The same carries by other published coefficients of drag and lift: what the choice of the flight model is worth."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from pipelines.measures.carry.factors import model_levels
from pipelines.measures.flight import CoefficientSet, bearman_harvey_coefficients, fly, pooled_coefficients, usga_coefficients
from pipelines.measures.grouping import by_group

if TYPE_CHECKING:
    from numpy.typing import NDArray

OTHER_MODELS: dict[str, CoefficientSet] = {"pooled": pooled_coefficients, "bearman_harvey": bearman_harvey_coefficients}
_MEANS = (
    *("ball_speed_mps", "launch_deg", "direction_deg", "spin_used_rpm", "spin_axis_deg"),
    *("air_density_kgpm3", "wind_mps", "wind_from_deg"),
)
_STEP_S = 0.4
"""Only ratios of flights are used: at this step they are within a ten-thousandth."""


def model_ratios(modelled: pl.DataFrame, reference_density_kgpm3: float, wind_height_m: float) -> pl.DataFrame:
    """Carry with other coefficients over that with the default ones, by session and club, at the mean launch of its shots.

    Parameters
    ----------
    modelled : polars.DataFrame
        From :func:`pipelines.measures.carry.comparable.modelled_shots` with the default coefficients.
    reference_density_kgpm3, wind_height_m : float
        Of the academy's reference air [kg/m³], and height of its wind's measurement [m].

    Returns
    -------
    polars.DataFrame
        session_id, club, and for each of :data:`OTHER_MODELS` ``NAME_still`` and ``NAME_day``: in reference air and in that of
        the day. Null where the mean launch has no flight.

    Notes
    -----
    Flying the means of a session in place of its shots changes these ratios by about a thousandth.
    Source: [USPatent6186002], [PooledFit], [BearmanHarvey1976]. Checked: tests/property/test_carry.py.
    """
    flown = modelled.filter(pl.col("model_carry_m").is_not_null())
    means = (
        by_group(flown, ["session_id", "club"])
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
    return means.select("session_id", "club").with_columns(**columns)


def other_models(cells: pl.DataFrame) -> pl.DataFrame:
    """How restated carry would change with other coefficients, by session and club.

    Parameters
    ----------
    cells : polars.DataFrame
        From :func:`pipelines.measures.carry.factors.ball_cells`, of all sessions.

    Returns
    -------
    polars.DataFrame
        player_id, session_id, club, and for each of :data:`OTHER_MODELS` ``NAME_anchored`` and ``NAME_computed``: the carry with
        these coefficients over the carry with the default ones, when it is measured and restated, or computed from launch.

    Notes
    -----
    A measured carry is multiplied by ``R = C(reference air)/C(day's air)`` and changes by the ratio of both sets' R. A computed
    one is C(reference air) at the level that measured carries have over the same set, so of the set only what its level does
    not take out remains. Source: [USPatent6186002], [PooledFit], [BearmanHarvey1976]. Checked: tests/property/test_carry.py.
    """
    months = cells["month_on"].unique().sort().to_list()
    usual, month = model_levels(cells, months), pl.col("month_on")
    columns = []
    for name in OTHER_MODELS:
        levels = model_levels(cells, months, f"{name}_off")
        over = {on: usual[on] / levels[on] for on in months}
        level = month.replace_strict(over, default=1.0, return_dtype=pl.Float64())
        columns.append((pl.col(f"{name}_still") / pl.col(f"{name}_day")).alias(f"{name}_anchored"))
        columns.append((pl.col(f"{name}_still") / level).alias(f"{name}_computed"))
    return cells.select("player_id", "session_id", "club", *columns).unique(maintain_order=True)


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
