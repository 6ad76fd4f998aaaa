"""Comparable carry: the same swings on a cold and on a warm day, balls and devices, and what stays said of each value."""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache

import numpy as np
import polars as pl
import pytest

from pipelines.measures.air import moist_air_density_kgpm3
from pipelines.measures.carry import (
    READS,
    assumed_spins,
    ball_cells,
    ball_factors,
    comparable_carry,
    model_ratios,
    modelled_shots,
    other_models,
    reference_density_kgpm3,
)
from pipelines.measures.flight import CoefficientSet, bearman_harvey_coefficients, fly, pooled_coefficients, usga_coefficients
from schemas.academy import ReferenceAir

START = date(2026, 1, 5)
STILL = {"air_pressure_hpa": 1013.25, "humidity_pct": 50.0, "altitude_m": 0.0, "wind_mps": 0.0, "wind_from_deg": 0.0}
REFERENCE = ReferenceAir()
METER_M = 10.0


@cache
def swings(n: int, seed: int = 4) -> pl.DataFrame:
    rng = np.random.default_rng(seed)
    speed = rng.normal(45.0, 0.7, n)
    return pl.DataFrame(
        {
            "club_speed_mps": speed,
            "ball_speed_mps": speed * rng.normal(1.45, 0.01, n),
            "launch_deg": rng.normal(12.5, 1.0, n),
            "direction_deg": rng.normal(0.0, 2.0, n),
            "spin_rpm": rng.normal(2800.0, 250.0, n),
            "spin_axis_deg": rng.normal(0.0, 4.0, n),
        }
    )


def session(
    name: str, shots: pl.DataFrame, temp_c: float | None, *, truth: CoefficientSet = pooled_coefficients, **given: object
) -> pl.DataFrame:
    """Shots of one session as reported: carry flown with another coefficient set than the measure's own."""
    air = STILL | {"air_temp_c": temp_c} | {key: value for key, value in given.items() if key in READS}
    density = float(moist_air_density_kgpm3(20.0 if temp_c is None else temp_c, 101325.0, 50.0))
    columns = (shots[name].to_numpy() for name in ("ball_speed_mps", "launch_deg", "direction_deg", "spin_rpm", "spin_axis_deg"))
    flight = fly(
        *columns,
        density,
        float(air["wind_mps"]),
        float(air["wind_from_deg"]),
        coefficients=truth,
        wind_height_m=float(given.get("meter_m", METER_M)),
    )  # type: ignore[arg-type]
    factor = float(given.get("carry_factor", 1.0))  # type: ignore[arg-type]
    rows = shots.with_columns(
        pl.Series("carry_m", flight.carry_m * factor),
        pl.Series("offline_m", flight.offline_m * factor),
        pl.int_range(1, shots.height + 1).alias("shot_no"),
    ).with_columns(pl.lit(value).alias(key) for key, value in air.items())
    fixed = {
        "session_id": name,
        "player_id": "p1",
        "on_date": START,
        "club": "driver",
        "club_group": "driver",
        "device_id": "d1",
        "ball": "premium",
        "indoors": False,
        "counts": True,
        "session_kind": "range",
    } | {key: value for key, value in given.items() if key in READS}
    kinds = {"air_temp_c": pl.Float64, "on_date": pl.Date}
    return (
        rows.with_columns(pl.lit(value).alias(key) for key, value in fixed.items())
        .with_columns(pl.col(key).cast(kind) for key, kind in kinds.items())
        .select(READS)
    )


def flown(shots: pl.DataFrame, meter_m: float = METER_M, coefficients: CoefficientSet = usga_coefficients) -> pl.DataFrame:
    """As a night does it: the spin that stands in where none was measured, then every flight."""
    daily = (
        shots.filter(pl.col("spin_rpm").is_not_null()).group_by("player_id", "club", "on_date").agg(pl.col("spin_rpm").median())
    )
    spinless = shots.filter(pl.col("spin_rpm").is_null()).select("player_id", "session_id", "club", "on_date").unique()
    return modelled_shots(shots, assumed_spins(daily, spinless), REFERENCE, 0.0, meter_m, coefficients)


def comparable(*sessions: pl.DataFrame, chosen: dict[str, float] | None = None) -> pl.DataFrame:
    return restated(flown(pl.concat(sessions)), METER_M, chosen)


def cells_of(modelled: pl.DataFrame, meter_m: float = METER_M) -> pl.DataFrame:
    return ball_cells(modelled, model_ratios(modelled, reference_density_kgpm3(REFERENCE), meter_m))


def restated(modelled: pl.DataFrame, meter_m: float, chosen: dict[str, float] | None = None) -> pl.DataFrame:
    cells = cells_of(modelled, meter_m)
    return comparable_carry(modelled, ball_factors(cells, chosen or {}), other_models(cells).drop("player_id"))


def mean_of(frame: pl.DataFrame, session_id: str, column: str = "carry_m") -> float:
    return float(frame.filter(pl.col("session_id") == session_id)[column].mean())  # type: ignore[arg-type]


@pytest.mark.parametrize("truth", [pooled_coefficients, bearman_harvey_coefficients])
def test_the_same_swings_cold_and_warm_carry_the_same(truth: CoefficientSet) -> None:
    # flown with coefficients that the measure does not use: the ratio of two flights hardly depends on the set
    cold, warm = (session(name, swings(120), temp, truth=truth) for name, temp in (("cold", 5.0), ("warm", 30.0)))
    found = comparable(cold, warm)
    assert found["method"].unique().to_list() == ["anchored"]
    assert mean_of(found, "cold") == pytest.approx(mean_of(found, "warm"), rel=0.005)
    raw = pl.concat([cold, warm])
    assert mean_of(raw, "warm") / mean_of(raw, "cold") > 1.015  # without it, the weather looks like a gain


def test_without_the_correction_the_trend_shows_a_false_change() -> None:
    # a season of the same swings, from 5 to 30 degrees: the slope of raw carry is many errors from zero, the restated is not
    sessions = [
        session(f"s{k:02d}", swings(25, seed=k), 5.0 + 25.0 * k / 19.0, on_date=START + timedelta(days=9 * k)) for k in range(20)
    ]
    raw, restated = pl.concat(sessions), comparable(*sessions)
    warmth = np.linspace(5.0, 30.0, 20)

    def slope(frame: pl.DataFrame) -> tuple[float, float]:
        means = np.array([mean_of(frame, f"s{k:02d}") for k in range(20)])
        (fitted, _), covariance = np.polyfit(warmth, means, 1, cov=True)
        return float(fitted), float(np.sqrt(covariance[0, 0]))

    raw_slope, raw_error = slope(raw)
    still_slope, still_error = slope(restated)
    assert raw_slope > 4.0 * raw_error
    assert abs(still_slope) < 2.5 * still_error
    assert abs(still_slope) < 0.25 * raw_slope


def test_wind_is_taken_out_of_carry_and_offline() -> None:
    still = session("still", swings(80), 15.0)
    blown = session("blown", swings(80), 15.0, wind_mps=5.0, wind_from_deg=60.0)
    found = comparable(still, blown)
    raw = pl.concat([still, blown])
    assert mean_of(raw, "still") - mean_of(raw, "blown") > 5.0
    assert mean_of(found, "still") == pytest.approx(mean_of(found, "blown"), rel=0.006)
    assert abs(mean_of(raw, "still", "offline_m") - mean_of(raw, "blown", "offline_m")) > 5.0
    assert mean_of(found, "still", "offline_m") == pytest.approx(mean_of(found, "blown", "offline_m"), abs=1.2)


def test_wind_of_a_low_meter_taken_for_that_of_a_high_one_is_not_taken_out() -> None:
    """5 m/s of head wind at 2 m, flown with the measure's own coefficients: what is left is the wind's growth with height."""
    own = usga_coefficients
    still = session("still", swings(80), 15.0, truth=own, meter_m=2.0)
    blown = session("blown", swings(80), 15.0, truth=own, wind_mps=5.0, wind_from_deg=0.0, meter_m=2.0)
    shots = pl.concat([still, blown])

    def left(height_m: float) -> float:
        found = restated(flown(shots, height_m), height_m)
        return mean_of(found, "still") - mean_of(found, "blown")

    assert abs(left(2.0)) < 0.1
    assert left(30.0) > 5.0


def test_every_value_says_how_it_came_about() -> None:
    shots = swings(12)
    cases = (
        session("whole", shots, 15.0),
        session("indoors", shots, 20.0, indoors=True),
        session("no-air", shots, None),
        session("no-launch", shots, 15.0).with_columns(pl.lit(None, dtype=pl.Float64).alias("launch_deg")),
        session("no-carry", shots, 15.0).with_columns(pl.lit(None, dtype=pl.Float64).alias("carry_m")),
        session("no-spin", shots, 15.0).with_columns(pl.lit(None, dtype=pl.Float64).alias("spin_rpm")),
        session("nothing", shots, 15.0).with_columns(pl.lit(None, dtype=pl.Float64).alias(c) for c in ("launch_deg", "carry_m")),
    )
    found = comparable(*cases)
    said = {row[0]: row[1:] for row in found.select("session_id", "method", "reason").unique().iter_rows()}
    assert said == {
        "whole": ("anchored", ""),
        "indoors": ("computed", "indoors"),
        "no-air": ("measured_only", "air_unknown"),
        "no-launch": ("measured_only", "no_launch"),
        "no-carry": ("computed", "no_carry_measured"),
        "no-spin": ("anchored", "spin_assumed"),
        "nothing": ("none", "no_launch"),
    }
    assert found.filter(pl.col("method") == "none")["carry_m"].null_count() == 12
    assert found.filter(pl.col("method") != "none")["carry_m"].null_count() == 0


def both_balls(n: int, known_on: date) -> tuple[pl.DataFrame, pl.DataFrame]:
    """A range ball that leaves 2 % slower and carries 3 % less for its speed, and a premium ball, by the same player."""
    premium = session("premium", swings(n), 15.0, on_date=known_on)
    slow = swings(n, seed=9).with_columns(pl.col("ball_speed_mps") * 0.98)
    ranged = session("range", slow, 15.0, on_date=known_on, ball="range", carry_factor=0.97)
    return premium, ranged


def test_the_range_ball_is_learned_from_players_who_hit_both() -> None:
    found = comparable(*both_balls(150, START))
    assert mean_of(found, "range") == pytest.approx(mean_of(found, "premium"), rel=0.015)
    assert set(found["factor_source"]) == {"learned", "reference"}
    factors = ball_factors(cells_of(flown(pl.concat(both_balls(150, START)))), {})
    assert factors.filter(pl.col("ball") == "range")["speed_factor"][0] == pytest.approx(0.98, abs=0.005)


def test_a_set_factor_wins_and_an_unknown_one_is_said() -> None:
    premium, ranged = both_balls(150, START)
    chosen = comparable(premium, ranged, chosen={"d1": 0.9})
    assert chosen.filter(pl.col("session_id") == "range")["ball_factor"].unique().to_list() == [0.9]
    alone = comparable(ranged)
    assert set(alone["factor_source"]) == {"none"}
    assert set(alone["ball_factor"]) == {1.0}


def test_what_was_known_of_a_ball_does_not_change_with_later_months() -> None:
    early = both_balls(80, START)
    late = tuple(
        shots.with_columns((pl.col("session_id") + "-2").alias("session_id"))
        for shots in both_balls(200, START + timedelta(days=70))
    )
    then, now = comparable(*early), comparable(*early, *late).filter(~pl.col("session_id").str.ends_with("-2"))
    assert then.equals(now)


def test_the_shots_of_a_month_leave_the_factor_of_that_month_as_it_was_when_it_began() -> None:
    february, further = START + timedelta(days=30), START + timedelta(days=60)
    other = swings(150, seed=5).with_columns(pl.col("ball_speed_mps") * 0.95)
    newer, more = (
        session(name, shots, 15.0, on_date=february, ball="range", carry_factor=0.9)
        for name, shots in (("newer", other.head(30)), ("more", other.tail(120)))
    )
    then = comparable(*both_balls(150, START), newer)
    now = comparable(*both_balls(150, START), newer, more)
    kept = ["session_id", "shot_no"]
    assert now.join(then, on=kept, how="semi").sort(kept).equals(then.sort(kept))
    after = comparable(*both_balls(150, START), newer, more, session("later", other, 15.0, on_date=further, ball="range"))
    factors = {row[0]: row[1] for row in after.select("session_id", "ball_factor").unique().iter_rows()}
    assert factors["range"] == factors["newer"]
    assert factors["later"] < factors["newer"] - 0.01


def test_what_is_said_of_a_flight_does_not_depend_on_the_flights_beside_it() -> None:
    shots = pl.concat([session("a", swings(40), 15.0, wind_mps=4.0, wind_from_deg=30.0), session("b", swings(41, seed=2), 25.0)])
    together = flown(shots)
    for begin, end in ((0, 1), (1, 4), (4, 81)):
        assert flown(shots[begin:end]).equals(together[begin:end])


def test_without_a_shot_the_columns_are_those_of_shots() -> None:
    one = session("one", swings(1), 15.0)
    assert flown(one.clear()).schema == flown(one).schema


def test_computed_carries_stand_on_the_level_of_measured_ones() -> None:
    # a ball that flies 3 % farther than the model: indoors, where nothing is measured, it does so too
    measured = session("measured", swings(150), 15.0, carry_factor=1.03)
    indoors = session("indoors", swings(150), 20.0, indoors=True)
    found = comparable(measured, indoors)
    assert mean_of(found, "indoors") == pytest.approx(mean_of(found, "measured"), rel=0.004)


OTHERS = {"pooled": pooled_coefficients, "bearman_harvey": bearman_harvey_coefficients}


@pytest.mark.parametrize("name", list(OTHERS))
def test_a_carry_by_other_coefficients_is_what_flying_every_shot_with_them_gives(name: str) -> None:
    # two ways: ratios at the mean launch of each session, and every shot flown; indoors the level of measured carries comes in
    sessions = [
        session("cold", swings(80), 3.0, truth=usga_coefficients, wind_mps=4.0, wind_from_deg=30.0),
        session("warm", swings(80, seed=2), 30.0, truth=usga_coefficients),
        session("indoors", swings(40), 20.0, indoors=True),
    ]
    shots = pl.concat(sessions)
    quick = comparable(*sessions)
    whole = restated(flown(shots, METER_M, OTHERS[name]), METER_M)
    for one in ("cold", "warm", "indoors"):
        assert mean_of(quick, one, f"carry_{name}_m") == pytest.approx(mean_of(whole, one), rel=0.0015)


def test_the_flight_model_matters_most_where_nothing_was_measured() -> None:
    """Restated to the air in which it flew a carry owes nothing to the model; from far air little; computed alone, per cents."""
    here = session("here", swings(80), 15.0, air_pressure_hpa=1013.25, humidity_pct=0.0)
    far = session("far", swings(80), 32.0)
    blind = session("blind", swings(80), 20.0, indoors=True)
    spread = {
        name: float(np.std([mean_of(comparable(shots), name, column) for column in CARRIES], ddof=1))
        for name, shots in (("here", here), ("far", far), ("blind", blind))
    }
    assert spread["here"] < 0.02
    assert 0.05 < spread["far"] < 0.6 * spread["blind"]
    assert 1.5 < spread["blind"] < 6.0


CARRIES = ("carry_m", "carry_pooled_m", "carry_bearman_harvey_m")


def test_a_carry_as_reported_is_the_same_by_every_model() -> None:
    found = comparable(session("no-air", swings(12), None))
    assert found["method"].unique().to_list() == ["measured_only"]
    assert (found["carry_pooled_m"] == found["carry_m"]).all()
