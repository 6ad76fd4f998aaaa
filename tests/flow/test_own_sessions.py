"""Files that only the warehouse can doubt: carry in yards or with run, another player's shots, a copied visit; and true twins."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import polars as pl
import pytest

from pipelines.measures.flight.shots import fly
from pipelines.runs import Night, take_in_waiting
from pipelines.settings import default_settings
from pipelines.stages.intake import Readings, check_file
from pipelines.workspace import Workspace, create_workspace
from reports.findings.problems import problem_text
from reports.words import words
from warehouse.connection import open_warehouse

FIRST, NOW = datetime(2026, 1, 5, 9, tzinfo=UTC), datetime(2026, 6, 1, tzinfo=UTC)
N, VISITS = 16, 6
METER_M = 2.0
"""Height at which the academy measures its wind: what academy.toml says by default."""
SWINGS = {"crane": (46.0, -4.0, -1.0), "wren": (42.5, 1.0, 0.5)}
"""Club speed [m/s], path and face [deg] of two invented players."""
AIRS = {
    "new": {},
    "camp": {"altitude_m": 1500.0, "air_temp_c": 30.0},
    "tail_wind": {"wind_mps": 6.0, "wind_from_deg": 180.0},
    "head_wind": {"wind_mps": 8.0, "wind_from_deg": 0.0},
    "fast": {},
}


def _session(player: str, name: str, visit: int) -> dict[str, object]:
    air = {"altitude_m": 50.0, "air_temp_c": 15.0, "wind_mps": 0.0, "wind_from_deg": 0.0, **AIRS.get(name, {})}
    started = (FIRST + timedelta(days=5 * visit)).strftime("%Y-%m-%dT%H:%M:%S")
    return {
        "session_id": f"{player}-{name}",
        "player_id": player,
        "started_at": started,
        "kind": "range",
        "ball": "premium",
        **air,
    }


def _shots(player: str, name: str, visit: int) -> pl.DataFrame:
    """A driver session as a device would write it: flown by the flight model in that day's air, read with an error."""
    draw = np.random.default_rng([visit, len(player), len(name)])
    speed, path, face = SWINGS[player]
    club = draw.normal(speed * (1.05 if name == "fast" else 1.0) * draw.normal(1, 0.006), 0.6, N)
    paths, faces = draw.normal(path, 1.5, N), draw.normal(face, 1.5, N)
    ball, launch, spin = club * draw.normal(1.47, 0.01, N), draw.normal(12.5, 1, N), draw.normal(2700, 150, N)
    direction, axis = 0.8 * faces + 0.2 * paths, 2.2 * (faces - paths)
    session = _session(player, name, visit)
    pressure = 101325 * (1 - 2.25577e-5 * float(str(session["altitude_m"]))) ** 5.25588
    density = pressure / (287.05 * (float(str(session["air_temp_c"])) + 273.15))
    wind, wind_from = float(str(session["wind_mps"])), float(str(session["wind_from_deg"]))
    flight = fly(ball, launch, direction, spin, axis, density, wind, wind_from, wind_height_m=METER_M)
    made = {
        "club_speed_mps": club.round(2), "ball_speed_mps": ball.round(2), "launch_deg": launch.round(1),
        "direction_deg": direction.round(1), "spin_rpm": spin.round(0), "spin_axis_deg": axis.round(1),
        "carry_m": (1.02 * flight.carry_m * draw.normal(1, 0.006, N)).round(1), "path_deg": paths.round(1),
        "face_deg": faces.round(1),
    }  # fmt: skip
    at = datetime.fromisoformat(str(session["started_at"]))
    struck = [(at + timedelta(minutes=number)).strftime("%Y-%m-%dT%H:%M:%S") for number in range(N)]
    return pl.DataFrame(made).select(
        pl.lit(session["session_id"]).alias("session_id"),
        pl.lit(player).alias("player_id"),
        pl.Series("shot_no", range(1, N + 1)),
        pl.Series("struck_at", struck),
        pl.lit("driver").alias("club"),
        pl.all(),
    )


@pytest.fixture(scope="module")
def academy(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    """Two players with six sessions each, and the sessions of the files to come."""
    made = create_workspace(tmp_path_factory.mktemp("own") / "academy", default_settings("Academy", "UTC"))
    pl.DataFrame({"player_id": list(SWINGS), "alias": ["Crane", "Wren"]}).write_csv(made.inbox / "players.csv")
    visits = [(player, f"v{visit}", visit) for player in SWINGS for visit in range(VISITS)]
    coming = [(player, name, VISITS + 1) for player in SWINGS for name in AIRS]
    pl.DataFrame([_session(*each) for each in visits + coming]).write_csv(made.inbox / "sessions.csv")
    pl.concat([_shots(*each) for each in visits]).write_csv(made.inbox / "shots_earlier.csv")
    assert {file.status for file in take_in_waiting(Night(made, NOW)).files} == {"loaded"}
    return made


def _asked(academy: Workspace, shots: pl.DataFrame, folder: Path) -> str:
    """The question about a file of these shots; empty when it would be loaded."""
    shots.write_csv(folder / "shots_new.csv")
    with open_warehouse(academy.warehouse, read_only=True) as con:
        found = check_file(folder / "shots_new.csv", Readings(academy.mappings, "UTC", con, wind_height_m=METER_M), NOW)
    assert [file.status for file in found.files] == ["held" if found.problems.height else "loaded"]
    return str(found.problems["value"][0]) if found.problems.height else ""


def _new(player: str = "crane", name: str = "new") -> pl.DataFrame:
    return _shots(player, name, VISITS + 1)


def _as_new(shots: pl.DataFrame) -> pl.DataFrame:
    """Shots under the new session of the first player."""
    return shots.with_columns(_new().select("session_id", "player_id", "struck_at"))


WRONG = {
    "carry in yards": (lambda: _new().with_columns((pl.col("carry_m") / 0.9144).round(1)), "is carry in yards"),
    "carry with run": (lambda: _new().with_columns((pl.col("carry_m") + 18).round(1)), "or the total distance?"),
    "metres made from yards twice": (lambda: _new().with_columns((pl.col("carry_m") * 0.9144 * 0.95).round(1)), "in other units"),
    "a copied visit": (
        lambda: _as_new(_shots("crane", "v3", 3)),
        "16 of 16 shots have the very readings of another session, crane-v3",
    ),
    "another player's": (lambda: _as_new(_new("wren")), "close to wren's: are these their shots?"),
}
TRUE = {
    "as always": _new,
    "thin warm air": lambda: _new(name="camp"),
    "wind from behind": lambda: _new(name="tail_wind"),
    "wind from ahead": lambda: _new(name="head_wind"),
    "a speed day": lambda: _new(name="fast"),
    "the other player's under their own name": lambda: _new("wren"),
    "a visit measured again": lambda: _as_new(_shots("crane", "v3", 3)).with_columns(
        pl.col("club_speed_mps", "ball_speed_mps") + 0.01
    ),
    "six shots of an earlier visit": lambda: pl.concat([_as_new(_shots("crane", "v3", 3)).head(6), _new().tail(N - 6)]),
}


@pytest.mark.parametrize("what", WRONG)
def test_a_file_that_is_not_as_this_player_s_is_asked_about(academy: Workspace, tmp_path: Path, what: str) -> None:
    made, question = WRONG[what]
    asked = _asked(academy, made(), tmp_path)
    assert question in asked
    assert problem_text("found", "values_look_wrong", asked, words("de")).language == "de"


@pytest.mark.parametrize("what", TRUE)
def test_its_true_twin_is_not(academy: Workspace, tmp_path: Path, what: str) -> None:
    assert _asked(academy, TRUE[what](), tmp_path) == ""
