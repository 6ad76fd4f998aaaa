"""What surrounds trials: rows within their reach tell all that every row does, and a day long after leaves a trial standing."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
import pytest

from pipelines.stages.measure import trials
from pipelines.stages.measure.load import measure_load
from pipelines.stages.measure.trial_reach import within_reach
from pipelines.stages.measure.trials import measure_trials, trials_by_player
from pipelines.stages.stale import rows_read
from schemas.core.summaries import SESSION_CLUB
from tests.broad import some_of
from tests.warehouse.trial_world import ACADEMY, FILE, NIGHT, lay_trials, session
from warehouse.connection import frame, insert_frame

if TYPE_CHECKING:
    from collections.abc import Mapping

    import duckdb

BEGIN = date(2025, 1, 6)


def days(n: int) -> list[date]:
    return [BEGIN + timedelta(days=number) for number in range(n)]


def lay_years(con: duckdb.DuckDBPyConnection, player_id: str) -> None:
    """A session, its summary and an answer on every day of two years, and phases of three to nine weeks."""
    rng = np.random.default_rng(41)
    for day in days(700):
        session(con, f"{player_id}-{day}", player_id, day, "range", int(rng.integers(40, 90)))
    n = 700
    summaries = pl.DataFrame({"session_id": [f"{player_id}-{day}" for day in days(n)], "on_date": days(n)}).with_columns(
        pl.lit(player_id).alias("player_id"),
        *(pl.lit(text).alias(name) for name, text in (("club_group", "driver"), ("club", "driver"), ("device_id", "d1"))),
        pl.Series("club_speed_mps_centre", 44.0 + 0.3 * rng.standard_normal(n)),
        pl.Series("offline_m_log_mad", 2.0 + 0.2 * rng.standard_normal(n)),
        *(pl.lit(20).alias(name) for name in SESSION_CLUB.names if name.endswith(("_n", "_shots"))),
        pl.lit("range").alias("session_kind"),
        pl.lit(value=True).alias("is_usual_club"),
    )
    insert_frame(con, "session_club", summaries)
    answers = {"player_id": player_id, "date": days(n), "fatigue": rng.integers(1, 6, n).astype(float)}
    insert_frame(con, "checkin", pl.DataFrame(answers).with_columns(**{name: pl.lit(value) for name, value in FILE.items()}))
    lengths = (5, 3, 9, 4, 6, 8, 3, 4, 7, 5, 9, 4, 5, 6, 3, 9)
    names = [name for at, weeks in enumerate(lengths) for name in [("speed", "technique", "play")[at % 3]] * weeks]
    weeks = {"week_starting": days(n)[::7][: len(names)], "phase": names[: len(days(n)[::7])]}
    insert_frame(con, "plan", pl.DataFrame(weeks).with_columns(player_id=pl.lit(player_id), file_id=pl.lit("f"), line=2))


@pytest.fixture
def world(con: duckdb.DuckDBPyConnection) -> duckdb.DuckDBPyConnection:
    lay_trials(con)
    lay_years(con, "p1")
    measure_load(con, ACADEMY, NIGHT)
    return con


def everything(around: Mapping[str, pl.DataFrame], _shots: pl.DataFrame) -> dict[str, pl.DataFrame]:
    return dict(around)


@pytest.mark.parametrize("has_phases", some_of([True, False]))
def test_rows_within_reach_tell_all_that_every_row_does(
    world: duckdb.DuckDBPyConnection, monkeypatch: pytest.MonkeyPatch, has_phases: bool
) -> None:
    if not has_phases:
        world.execute("delete from plan").fetchall()
    units, found = pl.DataFrame({"player_id": ["p1", "p2", "p3"]}), {}
    for name, reach in (("near", within_reach), ("all", everything)):
        monkeypatch.setattr(trials, "within_reach", reach)
        apart = trials_by_player(world, ACADEMY, NIGHT)
        read = rows_read(world, apart, units)
        found[name] = ({one: rows.height for one, rows in read.items()}, apart.measure(read))
    (few, near), (many, of_all) = found["near"], found["all"]
    around = ("swings", "checkins", "session_clubs", *(("plans",) if has_phases else ()))
    assert [name for name in around if few[name] >= many[name]] == [], (few, many)
    for table, rows in of_all.items():
        assert rows.equals(near[table]), table
    for table in ("trial_since", "trial_alternative", "trial_body", "trial_result"):
        assert not of_all[table].is_empty(), table
    assert of_all["trial_alternative"].height > (2 if has_phases else 1)
    assert ("phase" in of_all["trial_alternative"]["kind"]) == has_phases


def digest(con: duckdb.DuckDBPyConnection) -> int:
    measure_trials(con, ACADEMY, NIGHT)
    return int(frame(con, "select digest from stage_unit where stage = 'trials' and unit = 'p1'").item())


REACH = {"checkin": ("date", "fatigue = 9", 2), "load_day": ("on_date", "swings_full = 999", 2)}
REACH |= {"session_club": ("on_date", "n_shots = 99", 84), "plan": ("week_starting", "swings_full = 999", 84)}
"""What lies around, its day, a change of it, and so many days after a trial at which it still tells something."""


@pytest.mark.parametrize("table", some_of(sorted(REACH), every=2))
def test_a_day_long_after_leaves_a_trial_standing_and_one_within_reach_does_not(
    world: duckdb.DuckDBPyConnection, table: str
) -> None:
    last = frame(world, "select max(on_date) from arm_shot where player_id = 'p1'").item()
    day, change, after = REACH[table]
    before = digest(world)
    for days_after, is_seen in ((after, True), (after + 200, False)):
        on_date = last + timedelta(days=days_after)
        week = f"player_id = 'p1' and {day} between ? and ?"
        world.execute(f'update "{table}" set {change} where {week}', [on_date - timedelta(days=6), on_date]).fetchall()
        now = digest(world)
        assert (now != before) == is_seen, days_after
        before = now
