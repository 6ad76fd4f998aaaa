"""Trials from the warehouse: declared ones, ones that only shots name, planned ones; what the night writes of them."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
import pytest

from pipelines.measures.trial.sheet import order_text
from pipelines.stages.measure.summaries import measure_summaries
from pipelines.stages.measure.trials import measure_trials
from pipelines.stages.trial_plan import TrialWish, plan_trial, shown_trial, write_sheet
from schemas.core.trials import TABLES
from schemas.errors import NotFoundError, UsageError
from schemas.marts import marts
from tests.warehouse.trial_world import ACADEMY, DRIVE, FILE, NIGHT, at, lay_trials, session
from warehouse.connection import frame, insert_frame
from warehouse.marts import Marts

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb


@pytest.fixture
def world(con: duckdb.DuckDBPyConnection) -> duckdb.DuckDBPyConnection:
    lay_trials(con)
    return con


def results(con: duckdb.DuckDBPyConnection) -> dict[str, dict[str, object]]:
    return {row["trial_id"]: row for row in frame(con, "select * from trial_result").rows(named=True)}


def test_declared_named_by_shots_and_planned(world):
    measure_trials(world, ACADEMY, NIGHT)
    found = results(world)
    assert {name: row["state"] for name, row in found.items()} == {"kept": "verdict", "unnamed": "verdict", "planned": "planned"}
    assert (found["kept"]["verdict"], found["kept"]["best_arm"]) == ("keep", "wider")
    assert found["unnamed"]["verdict"] == "go back"
    assert (found["unnamed"]["is_declared"], found["unnamed"]["question"], found["unnamed"]["player_id"]) == (False, "", "p2")
    assert found["planned"]["n_shots"] == 0


def test_warm_up_is_not_part_of_a_trial(world):
    measure_trials(world, ACADEMY, NIGHT)
    assert frame(world, "select * from trial_shot where trial_id = 'kept'").height == results(world)["kept"]["n_shots"] == 90
    assert results(world)["kept"]["notes"] == []


def test_both_default_courses_and_all_arms_are_there(world):
    measure_trials(world, ACADEMY, NIGHT)
    courses = frame(world, "select course, is_home from trial_strokes where trial_id = 'kept' order by course").rows()
    assert courses == [("open", False), ("tree-lined", True)]
    arms = frame(world, "select arm, is_normal from trial_arm where trial_id = 'kept' order by amount").rows()
    assert arms == [("normal", True), ("wider", False)]


def test_a_night_sees_nothing_of_later_days_and_a_second_time_changes_nothing(world):
    measure_trials(world, ACADEMY, date(2026, 1, 6))
    assert results(world)["kept"]["n_days"] == 1
    assert results(world)["kept"]["verdict"] != "keep"
    measure_trials(world, ACADEMY, NIGHT)
    once = {table.name: frame(world, f"select * from {table.name} order by all") for table in TABLES}
    measure_trials(world, ACADEMY, NIGHT)
    assert all(frame(world, f"select * from {name} order by all").equals(rows) for name, rows in once.items())


def test_the_normal_swing_after_a_trial_is_compared_with_that_before(world):
    rng = np.random.default_rng(4)
    for number in range(16):
        day = (
            date(2025, 11, 1) + timedelta(days=5 * number)
            if number < 10
            else date(2026, 1, 12) + timedelta(days=5 * (number - 10))
        )
        session(world, f"s{number}", "p1", day, "range")
        rows = [
            {"session_id": f"s{number}", "player_id": "p1", "shot_no": n, "struck_at": at(day, 10), **DRIVE, **FILE,
             "club_speed_mps": float(rng.normal(45, 0.6)), "offline_m": float(rng.normal(0, 13)), "carry_m": 210.0}
            for n in range(1, 21)
        ]  # fmt: skip
        insert_frame(world, "shot", pl.DataFrame(rows))
    measure_summaries(world, ACADEMY, NIGHT)
    measure_trials(world, ACADEMY, NIGHT)
    rows = {row["metric"]: row for row in frame(world, "select * from trial_since where trial_id = 'kept'").rows(named=True)}
    assert (rows["club_speed_mps"]["n_before"], rows["club_speed_mps"]["n_after"]) == (10, 6)
    assert rows["club_speed_mps"]["state"] == "back"
    assert rows["club_speed_mps"]["device_id"] == "d1"
    assert "offline_m_log_mad" in rows


def sheet_of_the_kept_trial(con: duckdb.DuckDBPyConnection, swapped: int = 0) -> str:
    """The order in which it was struck; ``swapped``: so many of the first shots of each day stand under the other arm."""
    shots = frame(con, "select session_id, arm from arm_shot where trial_id = 'kept' and counts order by struck_at, shot_no")
    other = {"normal": "wider", "wider": "normal"}
    days = [part["arm"].to_list() for part in shots.partition_by("session_id", maintain_order=True)]
    return order_text([[other[arm] for arm in day[:swapped]] + day[swapped:] for day in days])


def declare_sheet(con: duckdb.DuckDBPyConnection, sheet: str) -> dict[str, object]:
    con.execute("update trial set sheet = ? where trial_id = 'kept'", [sheet]).fetchall()
    measure_trials(con, ACADEMY, NIGHT)
    return results(con)["kept"]


def test_a_trial_that_kept_to_its_sheet_says_so(world):
    row = declare_sheet(world, sheet_of_the_kept_trial(world))
    assert (row["sheet_planned"], row["sheet_struck"], row["sheet_differing"], row["state"]) == (90, 90, 0, "verdict")


def test_a_shot_or_two_under_another_arm_are_counted_beside_the_verdict(world):
    row = declare_sheet(world, sheet_of_the_kept_trial(world, swapped=1))
    assert (row["sheet_differing"], row["state"]) == (2, "verdict")


def test_labels_that_are_not_the_sheets_stand_in_place_of_a_verdict(world):
    row = declare_sheet(world, sheet_of_the_kept_trial(world, swapped=30))
    assert (row["state"], row["statements"]) == ("statement", ["sheet_not_followed"])


def test_an_arm_that_was_not_declared_stands_in_place_of_a_verdict(world):
    world.execute("update trial set arms = 'normal | broader' where trial_id = 'kept'").fetchall()
    measure_trials(world, ACADEMY, NIGHT)
    assert "unknown_arm" in results(world)["kept"]["statements"]


def test_a_sheet_that_cannot_be_read_is_said_beside_the_verdict(world):
    row = declare_sheet(world, "some normal, some wider")
    assert (row["state"], row["notes"], row["sheet_planned"]) == ("verdict", ["sheet_unreadable"], None)


def test_reports_of_the_body_are_compared_and_not_for_the_coach(world):
    days = [date(2025, 12, 10) + timedelta(days=n) for n in range(32)]
    answers = [{"player_id": "p1", "date": day, "fatigue": 2.0 if day < date(2026, 1, 6) else 7.0, **FILE} for day in days]
    measure_trials(world, ACADEMY, NIGHT)
    before = (results(world)["kept"]["verdict"], results(world)["kept"]["reason"])
    insert_frame(world, "checkin", pl.DataFrame(answers))
    measure_trials(world, ACADEMY, NIGHT)
    assert results(world)["kept"]["body_side"] == "ask"
    assert (results(world)["kept"]["verdict"], results(world)["kept"]["reason"]) == before
    assert frame(world, "select metric from trial_body").to_series().to_list() == ["fatigue"]
    assert marts()["mart_trial_body"].readers == ("physio", "player")
    assert not {"mart_trial_body", "mart_trial_question"} & set(Marts(world, "coach").names())
    assert "body_side" not in Marts(world, "coach").rows("mart_trial_result").columns


def test_a_sheet_is_planned_written_and_taken_for_a_declared_trial(world, tmp_path: Path):
    (tmp_path / "inbox").mkdir()
    wish = TrialWish("p3", "weaker grip", ("normal", "weaker"), shots_per_arm=20)
    sheet = plan_trial(world, ACADEMY, wish, NIGHT)
    assert sheet.trial_id == "p3-20261231"
    assert sheet.assumed == ("speed", "session", "carry", "offline")
    assert sheet.shots_per_arm == 20
    assert sheet.own_power.smallest_scatter > 1.5
    assert plan_trial(world, ACADEMY, wish, NIGHT) == sheet
    files = write_sheet(tmp_path, sheet, ACADEMY, NIGHT)
    table = pl.read_csv(files.csv)
    assert table.columns == ["day_no", "shot_no", "trial_id", "arm", "block_no", "counts", "felt"]
    assert table.height == len(sheet.shots)
    assert files.declaration == tmp_path / "inbox" / "trials_p3-20261231.csv"
    declared = pl.read_csv(files.declaration)
    assert declared["arms"].to_list() == ["normal | weaker"]
    assert declared["sheet"].to_list() == [order_text([[one.arm for one in sheet.shots if one.day_no == day] for day in (1, 2)])]
    page = files.html.read_text(encoding="utf-8")
    assert "weaker" in page
    assert "<script" not in page


def test_mistakes_in_a_plan_are_said_in_one_line(world):
    with pytest.raises(NotFoundError, match="no player nobody"):
        plan_trial(world, ACADEMY, TrialWish("nobody", "x", ("normal", "b")), NIGHT)
    with pytest.raises(UsageError, match="normal"):
        plan_trial(world, ACADEMY, TrialWish("p3", "x", ("a", "b")), NIGHT)
    with pytest.raises(UsageError, match="already"):
        plan_trial(world, ACADEMY, TrialWish("p3", "x", ("normal", "b"), trial_id="kept"), NIGHT)
    with pytest.raises(UsageError, match="different names"):
        plan_trial(world, ACADEMY, TrialWish("p3", "x", ("normal", "Normal")), NIGHT)
    measure_trials(world, ACADEMY, NIGHT)
    with pytest.raises(NotFoundError, match="Known: kept"):
        shown_trial(world, ACADEMY, "nothing", NIGHT)
    with pytest.raises(NotFoundError, match="planned since the last run is known after `speedworth run`"):
        shown_trial(world, ACADEMY, "planned-just-now", NIGHT)


def test_a_trial_is_shown_as_lines_of_text(world):
    measure_trials(world, ACADEMY, NIGHT)
    kept, planned = shown_trial(world, ACADEMY, "kept", NIGHT), shown_trial(world, ACADEMY, "planned", NIGHT)
    assert kept[0] == "Wider stance"
    assert kept[1].startswith("Keep: “wider” gains club speed")
    assert "Speed: better" in kept
    assert planned[1].startswith("Planned")


def test_a_trial_and_the_trends_call_the_same_change_of_speed_worthwhile(world):
    """The norm of the quarter of its first day, not of a later one."""
    norm = {
        "metric": ["club_speed_mps"] * 2 + ["scatter_side_m"] * 2, "club_group": ["driver"] * 4,
        "from_on": [date(2026, 1, 1), date(2026, 1, 7)] * 2, "worthwhile": [1.25, 1.5, 18.0, 22.0],
    }  # fmt: skip
    others = ("session_sd", "shot_sd", "typical_error", "detectable", "correlation")
    rows = pl.DataFrame(norm).with_columns(*(pl.lit(0.5).alias(name) for name in others), is_prior=pl.lit(value=False))
    insert_frame(world, "trend_norm", rows.with_columns(n_players=pl.lit(9), n_pairs=pl.lit(200)))
    measure_trials(world, ACADEMY, NIGHT)
    effect = frame(world, "select level, worthwhile from trial_effect where trial_id = 'kept' and metric = 'club_speed_mps'")
    assert (effect["worthwhile"] / effect["level"]).to_list() == pytest.approx([0.0125])
    arms = frame(world, "select left_right_worthwhile from trial_arm where trial_id = 'kept' and left_right_ratio is not null")
    assert set(arms["left_right_worthwhile"].round(9)) == {round(float(np.exp(0.18)), 9)}


@pytest.mark.parametrize(
    ("wish", "told"),
    [
        (TrialWish("p3", " ", ("normal", "b")), "question"),
        (TrialWish("p3", "wider " * 40, ("normal", "b")), "question"),
        (TrialWish("p3", "x", ("normal", "b" * 400)), "arms"),
        (TrialWish("p3", "x", ("normal", "a|b")), "arm"),
        (TrialWish("p3", "x", ("normal", "Warm-up")), "arm"),
        (TrialWish("p3", "x", ("normal", "b"), trial_id="../../elsewhere"), "trial_id"),
        (TrialWish("p3", "x", ("normal, and slow", "b" * 38), "normal, and slow", 400, 14), "sheet"),
    ],
)
def test_a_trial_that_no_file_could_hold_is_not_planned(world, wish: TrialWish, told: str):
    with pytest.raises(UsageError, match=told) as fault:
        plan_trial(world, ACADEMY, wish, NIGHT)
    assert "\n" not in str(fault.value)
    assert len(str(fault.value)) < 400
