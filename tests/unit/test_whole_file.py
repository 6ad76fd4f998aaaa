"""Files that are plausible shot by shot and wrong as a whole: each must be held with its question, the true file must not."""

from __future__ import annotations

from datetime import datetime
from functools import cache

import numpy as np
import polars as pl
import pytest

from pipelines.measures.flight.shots import fly
from pipelines.stages.intake.check import Known
from pipelines.stages.intake.own_sessions import READINGS, _with_reach, another_player, copied_readings
from pipelines.stages.intake.plausible import swapped_units, warning_rows
from pipelines.stages.intake.whole_file import REACH, SHAPE, USUAL, looks_wrong
from reports.findings.problems import problem_text
from reports.words import LANGUAGES, words
from schemas.files import KINDS

N = 20
SIDED = ("direction_deg", "offline_m", "spin_axis_deg", "path_deg", "face_deg")


@cache
def _shots(seed: int, session: str) -> pl.DataFrame:
    """A driver session of an invented player with a slice, flown by the flight model in still air."""
    draw = np.random.default_rng(seed)
    club = draw.normal(46, 0.7, N)
    path, face = draw.normal(-4, 1.5, N), draw.normal(-1, 1.5, N)
    axis = 2.2 * (face - path) + draw.normal(0, 1, N)
    direction = 0.8 * face + 0.2 * path + draw.normal(0, 0.3, N)
    ball, launch, spin = club * draw.normal(1.47, 0.01, N), draw.normal(12.5, 1, N), draw.normal(2700, 200, N)
    flight = fly(ball, launch, direction, spin, axis)
    made = {
        "club_speed_mps": club, "ball_speed_mps": ball, "launch_deg": launch, "direction_deg": direction, "spin_rpm": spin,
        "spin_axis_deg": axis, "carry_m": flight.carry_m, "offline_m": flight.offline_m, "apex_m": flight.apex_m,
        "descent_deg": flight.descent_deg, "path_deg": path, "face_deg": face,
    }  # fmt: skip
    return pl.DataFrame(made).with_columns(
        pl.lit("P1").alias("player_id"),
        pl.lit(session).alias("session_id"),
        pl.lit("driver").alias("club"),
        pl.lit(datetime(2026, 3, 14)).alias("struck_at"),  # noqa: DTZ001 - the warehouse keeps UTC without zone
    )


@cache
def _known() -> Known:
    """What eight earlier sessions say of this player, as the warehouse would."""
    earlier = pl.concat([_shots(seed, f"S{seed}") for seed in range(8)])
    middles = earlier.with_columns(SHAPE.alias("shape"), REACH.alias("reach")).group_by("player_id", "club", "session_id")
    long = middles.agg(pl.col(name).median() for name in USUAL).unpivot(
        USUAL, index=["player_id", "club"], variable_name="quantity", value_name="v"
    )
    usual = long.group_by("player_id", "club", "quantity").agg(
        pl.col("v").median().alias("middle"),
        (pl.col("v") - pl.col("v").median()).abs().median().alias("spread"),
        pl.len().alias("n_sessions"),
    )
    return Known(None, None, usual=usual)


def _swapped(one: str, other: str) -> list[pl.Expr]:
    return [pl.col(one).alias(other), pl.col(other).alias(one)]


def _asked(change: list[pl.Expr], known: Known | None = None) -> str:
    shots = _shots(101, "S101").with_columns(change)
    return looks_wrong(KINDS["shots"], shots, pl.repeat(0, N, dtype=pl.Int32, eager=True), known or _known()).get(0, "")


def test_a_true_file_is_not_asked_about() -> None:
    assert _asked([]) == ""
    for seed in range(200, 220):
        shots = _shots(seed, "S")
        assert looks_wrong(KINDS["shots"], shots, pl.repeat(0, N, dtype=pl.Int32, eager=True), _known()) == {}


@pytest.mark.parametrize(
    ("change", "told"),
    [
        ([pl.col("carry_m") / 0.9144], "is carry in yards, or the total distance?"),
        ([pl.col("carry_m") / 0.3048], "is carry in feet?"),
        ([pl.col("carry_m") + 20], "is carry in yards, or the total distance?"),
        ([pl.col("apex_m") / 0.3048], "is the apex in feet"),
        ([pl.col("club_speed_mps") / 0.44704], "are the two swapped, or in different units?"),
        (_swapped("club_speed_mps", "ball_speed_mps"), "are the two swapped"),
        (_swapped("face_deg", "path_deg"), "are face and path swapped?"),
        (_swapped("launch_deg", "direction_deg"), "are they swapped?"),
        ([-pl.col("offline_m")], "of offline swapped?"),
        ([-pl.col(name) for name in SIDED], "all sides swapped?"),
        ([pl.col("spin_rpm") * 2.2, pl.col("launch_deg") + 5, pl.col("club_speed_mps") * 0.8,
          pl.col("ball_speed_mps") * 0.75, pl.col("carry_m") * 0.66], "another club's?"),
        ([pl.lit(datetime(1970, 1, 1)).alias("struck_at")], "is the clock of the device set?"),  # noqa: DTZ001
    ],
)  # fmt: skip
def test_a_wrong_file_is_held_with_the_likeliest_cause(change: list[pl.Expr], told: str) -> None:
    asked = _asked(change)
    assert told in asked
    for language in LANGUAGES:
        assert problem_text("found", "values_look_wrong", asked, words(language)).language == language


def test_without_a_history_only_physics_is_asked() -> None:
    nobody = Known(None, None)
    assert "feet" in _asked([pl.col("carry_m") / 0.3048], nobody)
    assert _asked([pl.col("carry_m") / 0.9144], nobody) == ""


def _files(*files: pl.DataFrame) -> pl.DataFrame:
    return pl.concat([shots.with_columns(pl.lit(at).alias("file")) for at, shots in enumerate(files)])


@pytest.mark.parametrize("wind_from", [90.0, 270.0])
def test_a_wind_from_the_side_is_not_taken_for_swapped_sides(wind_from: float) -> None:
    for seed in range(300, 310):
        shots = _shots(seed, "S")
        names = ("ball_speed_mps", "launch_deg", "direction_deg", "spin_rpm", "spin_axis_deg")
        flight = fly(*(shots[name].to_numpy() for name in names), wind_mps=10.0, wind_from_deg=wind_from)
        blown = shots.with_columns(pl.Series("offline_m", flight.offline_m))
        assert looks_wrong(KINDS["shots"], blown, pl.repeat(0, N, dtype=pl.Int32, eager=True), Known(None, None)) == {}


@pytest.mark.parametrize("wind_from", [0.0, 180.0])
def test_carry_is_held_against_a_flight_in_a_wind_that_grows_with_height(wind_from: float) -> None:
    """As the flights of a night: read 2 m above the ground, 8 m/s are more where the ball is."""
    launch = ("ball_speed_mps", "launch_deg", "direction_deg", "spin_rpm", "spin_axis_deg")
    shots = _shots(3, "S9").with_columns(wind_mps=pl.lit(8.0), wind_from_deg=pl.lit(wind_from), indoors=pl.lit(value=False))
    air = {name: pl.lit(None, dtype=pl.Float64) for name in ("air_temp_c", "air_pressure_hpa", "humidity_pct", "altitude_m")}
    shots = shots.with_columns(**air)
    true = fly(*(shots[name].to_numpy() for name in launch), wind_mps=8.0, wind_from_deg=wind_from, step_s=0.2, wind_height_m=2.0)
    blown = shots.with_columns(carry_m=pl.Series(true.carry_m))
    away = {height: abs(_with_reach(blown, height)["reach"].to_numpy() - 1.0).mean() for height in (2.0, None)}
    assert away[2.0] < 0.01
    assert away[None] > 3 * away[2.0]


def test_a_wedge_into_a_strong_wind_is_not_taken_for_other_units() -> None:
    wedge = _shots(1, "S").with_columns(
        pl.lit(46.0).alias("ball_speed_mps"), (pl.lit(46.0) * pl.lit(1.85)).alias("carry_m"), pl.lit(9000.0).alias("spin_rpm")
    )
    file = pl.repeat(0, N, dtype=pl.Int32, eager=True)
    assert swapped_units(KINDS["shots"], wedge, file) == {}
    assert "mph" in swapped_units(KINDS["shots"], wedge.with_columns(pl.col("carry_m") * 0.8), file)[0]


def _sides(slight: float) -> tuple[pl.DataFrame, Known]:
    """A session whose path and face are the mirror of the player's usual ones, which lie this far from the line."""
    usual = {"path_deg": -slight, "face_deg": -0.8 * slight, "direction_deg": -0.8 * slight, "spin_axis_deg": -2.5 * slight}
    now = _shots(1, "S").with_columns(*(pl.lit(-middle).alias(name) for name, middle in usual.items()))
    rows = [("P1", "driver", name, middle, abs(middle) / 4, 9) for name, middle in usual.items()]
    columns = ("player_id", "club_group", "quantity", "middle", "spread", "n_sessions")
    history = pl.DataFrame(rows, schema=columns, orient="row")
    return now.with_columns(pl.int_range(1, N + 1).alias("shot_no")), Known(None, None, history=history)


@pytest.mark.parametrize(("slight", "asked"), [(4.0, ["S"]), (0.9, [])])
def test_only_a_player_with_a_side_is_asked_whether_it_is_mirrored(slight: float, asked: list[str]) -> None:
    shots, known = _sides(slight)
    everything = pl.repeat(value=True, n=N, dtype=pl.Boolean, eager=True)
    told = warning_rows(KINDS["shots"], shots, pl.repeat(0, N, dtype=pl.Int32, eager=True), everything, known)
    assert told.filter(pl.col("rule") == "sides_look_swapped")["value"].to_list() == asked


def test_a_visit_that_comes_twice_in_one_night_is_asked_about_once() -> None:
    first = _shots(1, "S1")
    found = copied_readings(
        _files(first, _shots(2, "S2"), first.with_columns(pl.lit("S3").alias("session_id"))), Known(None, None)
    )
    assert list(found) == [2]
    assert "20 of 20 shots have the very readings of another session, S1" in found[2]


def test_a_coarse_device_may_write_the_same_readings_on_many_days() -> None:
    """Whole numbers of speeds and carry alone: each shot has its equal on some other day, no day has them all."""
    coarse = _shots(1, "S").with_columns(
        pl.col(READINGS[:3]).round(0), *(pl.lit(None, dtype=pl.Float64).alias(name) for name in READINGS[3:])
    )
    kept = coarse.select(pl.format("E{}", pl.int_range(N) % 7).alias("session_id"), *READINGS).unique()
    assert copied_readings(_files(coarse), Known(None, None, readings=kept)) == {}
    same_day = kept.with_columns(pl.lit("E1").alias("session_id"))
    assert "another session, E1" in copied_readings(_files(coarse), Known(None, None, readings=same_day))[0]


def test_a_tired_day_is_not_taken_for_a_slower_player_s() -> None:
    """Club and ball speed a twelfth lower, all else as ever: one thing is odd, not two."""
    own = _known().usual
    assert own is not None
    slower = pl.when(pl.col("quantity").is_in(["club_speed_mps", "ball_speed_mps"])).then(0.92).otherwise(1.0)
    other = own.with_columns(pl.lit("P2").alias("player_id"), (pl.col("middle") * slower).alias("middle"))
    known = Known(None, None, usual=pl.concat([own, other]))
    tired = _files(_shots(1, "S").with_columns(pl.col("club_speed_mps", "ball_speed_mps") * 0.92))
    assert another_player(tired, known) == {}


def _start_and_end(starts: float, curves: float, seed: int, history: dict[str, float]) -> tuple[pl.DataFrame, Known]:
    """A session of which a radar read start and end alone, and where its player's balls usually start and curve to."""
    draw = np.random.default_rng(seed)
    start, carry = draw.normal(starts, 1.5, N), draw.normal(220, 8, N)
    offline = carry * np.tan(np.radians(start + draw.normal(curves, 1.2, N)))
    read = {"direction_deg": start, "carry_m": carry, "offline_m": offline}
    empty = {name: [None] * N for name in ("spin_axis_deg", "path_deg", "face_deg", "spin_rpm", "launch_deg")}
    columns = {name: pl.Series(name, cells, dtype=pl.Float64) for name, cells in (read | empty).items()}
    rows = [("P1", "driver", name, middle, 0.8, 9) for name, middle in history.items()]
    names = ("player_id", "club_group", "quantity", "middle", "spread", "n_sessions")
    shots = _shots(seed, "S").with_columns(**columns).with_columns(pl.int_range(1, N + 1).alias("shot_no"))
    return shots, Known(None, None, history=pl.DataFrame(rows, schema=names, orient="row"))


@pytest.mark.parametrize("seed", range(301, 306))
@pytest.mark.parametrize(
    ("starts", "curves", "history", "asked"),
    [
        (2.5, -3.0, {"direction_deg": -2.5, "curve_deg": 3.0}, ["S"]),  # a draw of somebody who fades
        (-2.5, 3.0, {"direction_deg": -2.5, "curve_deg": 3.0}, []),
        (-2.5, -3.0, {"direction_deg": -2.5, "curve_deg": 3.0}, []),  # a wind from the right
        (2.5, 0.0, {"direction_deg": -2.5, "curve_deg": 3.0}, []),  # a straighter day
        (2.5, -3.0, {"direction_deg": -0.5, "curve_deg": 0.4}, []),  # nobody's side is known
        (4.5, 0.0, {"direction_deg": -4.5}, ["S"]),  # start alone, and always far to the left until now
        (2.5, 0.0, {"direction_deg": -2.5}, []),  # a change of aim
    ],
)
def test_a_mirrored_file_without_a_spin_axis_is_asked_about(
    starts: float, curves: float, seed: int, history: dict[str, float], asked: list[str]
) -> None:
    shots, known = _start_and_end(starts, curves, seed, history)
    everything = pl.repeat(value=True, n=N, dtype=pl.Boolean, eager=True)
    told = warning_rows(KINDS["shots"], shots, pl.repeat(0, N, dtype=pl.Int32, eager=True), everything, known)
    assert told.filter(pl.col("rule") == "sides_look_swapped")["value"].to_list() == asked
