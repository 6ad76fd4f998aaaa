"""Carry and offline of every shot restated for still reference air, so that months can be compared.

How a value came about is stored beside it:

``anchored``
    measured carry times model at reference air over model in the air of that day: the ball's own flight stays in it.
``computed``
    model at reference air alone, times the level that measured carries have over the model; indoors, or no carry measured.
``measured_only``
    carry as reported, because launch or air is unknown: not corrected for weather.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.bounce import run_m
from pipelines.measures.carry.factors import REFERENCE_BALL
from pipelines.measures.carry.models import OTHER_MODELS
from pipelines.measures.carry.session_air import air_density_by_shot, reference_density_kgpm3
from pipelines.measures.flight import CoefficientSet, Flight, fly, usga_coefficients

if TYPE_CHECKING:
    from schemas.academy import ReferenceAir

Floats = NDArray[np.float64]

STEP_S = 0.2
"""Twice the usual time step: the nightly run flies every shot twice; 99 of 100 carries stay within 3 cm, all within 6 cm."""

READS: tuple[str, ...] = (
    *("session_id", "shot_no", "player_id", "on_date", "club", "club_group", "device_id", "ball", "indoors", "counts"),
    *("session_kind", "club_speed_mps", "ball_speed_mps", "launch_deg", "direction_deg", "spin_rpm", "spin_axis_deg"),
    *("carry_m", "offline_m", "air_temp_c", "air_pressure_hpa", "humidity_pct", "altitude_m", "wind_mps", "wind_from_deg"),
)

METHODS: dict[str, str] = {
    "anchored": "measured carry, restated by the flight model's ratio of reference air to the day's air",
    "computed": "computed from launch for reference air, at the level of measured carries",
    "measured_only": "carry as reported, not corrected for air",
    "none": "no carry can be given",
}

REASONS: dict[str, str] = {
    "spin_assumed": "spin was not measured: the player's usual spin with this club stands in",
    "air_unknown": "no air temperature was given for this session",
    "no_carry_measured": "the session reports no carry",
    "indoors": "hit indoors: the device's carry is itself computed and not used",
}


def modelled_shots(
    shots: pl.DataFrame,
    spins: pl.DataFrame,
    reference: ReferenceAir,
    altitude_m: float,
    wind_height_m: float,
    coefficients: CoefficientSet = usga_coefficients,
) -> pl.DataFrame:
    """Every shot with its flight in reference air and in the air of its day; what is said of one does not depend on the others.

    Parameters
    ----------
    shots : polars.DataFrame
        Columns :data:`READS`, one row per shot; null where not measured.
    spins : polars.DataFrame
        From :func:`assumed_spins`.
    reference : ReferenceAir
        Air to restate to.
    altitude_m : float
        Of the academy.
    wind_height_m : float
        Height at which the academy's wind is measured [m].
    coefficients : CoefficientSet
        Flight model.

    Returns
    -------
    polars.DataFrame
        The shots and: spin_used_rpm, air_density_kgpm3, model_carry_m, model_offline_m, model_run_m (reference air),
        day_carry_m, day_offline_m (the day's air), flight_reason. Null where there is none.

    Notes
    -----
    A missing spin is replaced by the assumed one. A missing wind counts as calm; a measured one grows with height as over short
    grass. Source: [Penner2001], [USPatent6186002], [Allen1998].
    Checked: tests/property/test_carry.py.
    """
    ordered = shots.sort("on_date", "session_id", "shot_no").join(spins, on=list(_SPIN_OF), how="left", maintain_order="left")
    known = ordered.with_columns(pl.coalesce("spin_rpm", "usual_spin_rpm").alias("spin_used_rpm")).drop("usual_spin_rpm")
    density = air_density_by_shot(known, altitude_m)
    still = _flights(known, np.full(known.height, reference_density_kgpm3(reference)), 0.0, None, coefficients)
    outdoors = ~known["indoors"].fill_null(value=False).to_numpy()
    wind = known["wind_mps"].cast(pl.Float64).fill_null(0.0).to_numpy()
    day = _flights(known, np.where(outdoors, density, np.nan), wind, wind_height_m, coefficients)
    return known.with_columns(
        _series("air_density_kgpm3", density),
        _series("model_carry_m", still.carry_m),
        _series("model_offline_m", still.offline_m),
        _series("model_run_m", run_m(still.landing_speed_mps, still.descent_deg, still.landing_spin_rpm)),
        _series("day_carry_m", day.carry_m),
        _series("day_offline_m", day.offline_m),
        pl.Series("flight_reason", still.reason.tolist(), dtype=pl.String),
    )


def _flights(
    shots: pl.DataFrame, density: Floats, wind: Floats | float, wind_height_m: float | None, coefficients: CoefficientSet
) -> Flight:
    return fly(
        _values(shots, "ball_speed_mps"),
        _values(shots, "launch_deg"),
        _values(shots, "direction_deg"),
        _values(shots, "spin_used_rpm"),
        _values(shots, "spin_axis_deg"),
        density,
        wind,
        shots["wind_from_deg"].cast(pl.Float64).fill_null(0.0).to_numpy(),
        coefficients=coefficients,
        step_s=STEP_S,
        wind_height_m=wind_height_m,
    )


def _values(shots: pl.DataFrame, column: str) -> Floats:
    return shots[column].cast(pl.Float64).fill_null(float("nan")).to_numpy()


def _series(name: str, values: Floats) -> pl.Series:
    return pl.Series(name, values).fill_nan(None)


_SPIN_OF = ("player_id", "session_id", "club")


def assumed_spins(daily: pl.DataFrame, spinless: pl.DataFrame) -> pl.DataFrame:
    """Spin that stands in where none was measured: usual for player and club, else for the club, as known up to that day.

    Parameters
    ----------
    daily : polars.DataFrame
        player_id, club, on_date, spin_rpm: median of the measured spins of a day [rpm].
    spinless : polars.DataFrame
        player_id, session_id, club, on_date of sessions with a shot without spin.

    Returns
    -------
    polars.DataFrame
        player_id, session_id, club, usual_spin_rpm: mean of the player's daily medians, else of the squad's; null where neither
        is known.

    Notes
    -----
    Source: own rule. Checked: tests/property/test_carry.py.
    """
    ordered = daily.sort("on_date", "player_id", "club")
    own = ordered.select("player_id", "club", "on_date", _running("spin_rpm", "player_id", "club").alias("own_spin"))
    squad = (
        ordered.group_by("club", "on_date")
        .agg(pl.col("spin_rpm").median())
        .sort("on_date", "club")
        .select("club", "on_date", _running("spin_rpm", "club").alias("squad_spin"))
    )
    return (
        spinless.sort("on_date", *_SPIN_OF)
        .join_asof(own, on="on_date", by=["player_id", "club"], check_sortedness=False)
        .join_asof(squad, on="on_date", by="club", check_sortedness=False)
        .select(*_SPIN_OF, pl.coalesce("own_spin", "squad_spin").alias("usual_spin_rpm"))
    )


def _running(column: str, *by: str) -> pl.Expr:
    return pl.col(column).cum_sum().over(*by) / pl.col(column).cum_count().over(*by)


def comparable_carry(modelled: pl.DataFrame, factors: pl.DataFrame, others: pl.DataFrame) -> pl.DataFrame:
    """Comparable carry, offline and total of every shot, with method and reason.

    Parameters
    ----------
    modelled : polars.DataFrame
        From :func:`modelled_shots`.
    factors : polars.DataFrame
        From :func:`pipelines.measures.carry.factors.ball_factors`.
    others : polars.DataFrame
        From :func:`pipelines.measures.carry.models.other_models`.

    Returns
    -------
    polars.DataFrame
        One row per shot: session_id, shot_no, player_id, on_date, club, club_group, method, reason, carry_m, offline_m,
        direction_deg (of the landing point), run_m, total_m, ball_factor, factor_source, air_density_kgpm3, and
        carry_NAME_m for each of :data:`pipelines.measures.carry.models.OTHER_MODELS`: the carry by those coefficients. Where no
        carry can be given, method is ``none``, the values are null and the reason says why.
    """
    ratio = pl.col("model_carry_m") / pl.col("day_carry_m")
    method = _method()
    keys = ["device_id", "ball", "month_on"]
    dated = modelled.with_columns(pl.col("on_date").dt.truncate("1mo").alias("month_on"))
    joined = dated.join(factors, on=keys, how="left", maintain_order="left", nulls_equal=True)
    joined = joined.join(others, on=["session_id", "club"], how="left", maintain_order="left")
    return (
        joined.with_columns(method.alias("method"))
        .with_columns(_used_factor(), _used_source())
        .with_columns(_reason().alias("reason"), ratio.alias("ratio"))
        .with_columns(
            pl.when(pl.col("method") == "anchored")
            .then(pl.col("carry_m") * pl.col("ratio") / pl.col("factor"))
            .when(pl.col("method") == "computed")
            .then(pl.col("model_carry_m") * pl.col("model_level") / pl.col("factor"))
            .when(pl.col("method") == "measured_only")
            .then(pl.col("carry_m") / pl.col("factor"))
            .alias("comparable_m")
        )
        .with_columns(_offline().alias("comparable_offline_m"))
        .select(
            *["session_id", "shot_no", "player_id", "on_date", "club", "club_group", "method", "reason"],
            pl.col("comparable_m").alias("carry_m"),
            pl.col("comparable_offline_m").alias("offline_m"),
            pl.arctan2("comparable_offline_m", "comparable_m").degrees().alias("direction_deg"),
            pl.col("model_run_m").alias("run_m"),
            (pl.col("comparable_m") + pl.col("model_run_m")).alias("total_m"),
            pl.col("factor").alias("ball_factor"),
            "factor_source",
            "air_density_kgpm3",
            *(_by_model(name) for name in OTHER_MODELS),
        )
    )


def _by_model(name: str) -> pl.Expr:
    """The carry with other coefficients; as reported stays as reported."""
    times = (
        pl.when(pl.col("method") == "anchored")
        .then(pl.col(f"{name}_anchored"))
        .when(pl.col("method") == "computed")
        .then(pl.col(f"{name}_computed"))
        .otherwise(1.0)
    )
    return (pl.col("comparable_m") * times).alias(f"carry_{name}_m")


def _needs_factor() -> pl.Expr:
    # a premium ball's computed flight owes nothing to the device: its launch was measured
    return ~((pl.col("method") == "computed") & (pl.col("ball") == REFERENCE_BALL).fill_null(value=False))


def _used_factor() -> pl.Expr:
    return pl.when(_needs_factor()).then(pl.col("factor").fill_null(1.0)).otherwise(1.0).alias("factor")


def _used_source() -> pl.Expr:
    source = pl.col("factor_source").fill_null("none")
    return pl.when(_needs_factor()).then(source).otherwise(pl.lit("reference")).alias("factor_source")


def _method() -> pl.Expr:
    flown, carried = pl.col("model_carry_m").is_not_null(), pl.col("carry_m").is_not_null()
    outdoors = ~pl.col("indoors").fill_null(value=False)
    return (
        pl.when(flown & carried & outdoors & pl.col("day_carry_m").is_not_null())
        .then(pl.lit("anchored"))
        .when(flown & ~(carried & outdoors))
        .then(pl.lit("computed"))
        .when(carried)
        .then(pl.lit("measured_only"))
        .otherwise(pl.lit("none"))
    )


def _reason() -> pl.Expr:
    indoors = pl.col("indoors").fill_null(value=False)
    return (
        pl.when(pl.col("method").is_in(["measured_only", "none"]) & (pl.col("flight_reason") != ""))
        .then(pl.col("flight_reason"))
        .when(pl.col("method") == "measured_only")
        .then(pl.lit("air_unknown"))
        .when(pl.col("spin_rpm").is_null())
        .then(pl.lit("spin_assumed"))
        .when((pl.col("method") == "computed") & indoors)
        .then(pl.lit("indoors"))
        .when(pl.col("method") == "computed")
        .then(pl.lit("no_carry_measured"))
        .otherwise(pl.lit(""))
    )


def _offline() -> pl.Expr:
    """Measured offline moved by what wind and air did to the modelled ball; the model's alone where none was measured."""
    stretched = pl.col("offline_m") * pl.col("comparable_m") / pl.col("carry_m")
    still = pl.col("model_offline_m") * pl.col("comparable_m") / pl.col("model_carry_m")
    moved = pl.col("day_offline_m") * pl.col("comparable_m") / pl.col("day_carry_m")
    anchored = pl.col("method") == "anchored"
    return (
        pl.when(anchored & still.is_not_null() & moved.is_not_null())
        .then(pl.coalesce(stretched - moved + still, still))
        .when(pl.col("offline_m").is_not_null() & (pl.col("carry_m") > 0.0))
        .then(stretched)
        .otherwise(still)
    )
