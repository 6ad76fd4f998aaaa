"""Files that are plausible shot by shot and wrong as a whole: each must be held with its question, the true file must not."""

from __future__ import annotations

from datetime import datetime

import numpy as np
import polars as pl
import pytest

from pipelines.measures.flight.shots import fly
from pipelines.stages.intake.check import Known
from pipelines.stages.intake.whole_file import REACH, SHAPE, USUAL, looks_wrong
from reports.findings.problems import problem_text
from reports.words import LANGUAGES, words
from schemas.files import KINDS

N = 20
SIDED = ("direction_deg", "offline_m", "spin_axis_deg", "path_deg", "face_deg")


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
