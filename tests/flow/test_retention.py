"""What is older than the academy keeps it is gone everywhere, what is younger stays, and an end in between is finished."""

from __future__ import annotations

import shutil
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import polars as pl
import pytest

from pipelines.cli.main import main
from pipelines.runs import Night, expire_and_rerun, run_night, weekly_review
from pipelines.settings import default_settings, settings_from_text
from pipelines.stages import retention
from pipelines.stages.audit_log import logged
from pipelines.stages.doctor import examine
from pipelines.stages.rebuild import rebuild
from pipelines.stages.retention import expire, first_day, limits_of
from pipelines.workspace import Workspace, create_workspace
from schemas.errors import SettingsError
from tests.broad import some_of
from tests.flow.planted import places_naming
from tests.flow.test_rebuild import core
from warehouse.connection import open_warehouse, scalar

NOW = datetime(2026, 6, 1, 21, tzinfo=UTC)
YEARS = {
    "sessions": 2,
    "checkins": 1,
    "problems": 1,
    "absences": 1,
    "plans": 1,
    "mobility": 1,
    "rounds": 1,
    "changes": 1,
    "decisions": 1,
}
OLD, YOUNG = "Planted01x", "stays young"
FILES = {
    "players.csv": "player_id,alias,health_consent\nheron,Heron,true\n",
    "sessions.csv": "session_id,player_id,started_at,kind,note\n"
    f"s1,heron,2024-05-30T10:00,range,{OLD}\ns2,heron,2024-06-02T10:00,range,{YOUNG}\n",
    "shots.csv": "session_id,player_id,shot_no,struck_at,club,club_speed_mps,arm,trial_id\n"
    f"s1,heron,1,2024-05-30T10:01,driver,45.1,{OLD},T\ns2,heron,1,2024-06-02T10:01,driver,45.2,,\n",
    "checkins_a.csv": f"player_id,date,fatigue,note\nheron,2025-05-31,2,{OLD}\nheron,2025-06-01,2,{YOUNG}\n"
    f"heron,2025-05-01,{OLD},\nheron,2026-05-01,bad,\n",
    "checkins_b.csv": f"player_id,date,fatigue,note\nheron,2025-05-31,3,{OLD} again\n",
    "problems.csv": f"player_id,week_ending,region,participation,note\nheron,2025-05-25,neck,1,{OLD}\nheron,2026-05-24,neck,0,\n",
    "absences.csv": "player_id,began_on,kind,ended_on\nheron,2025-01-01,illness,2025-02-01\nheron,2025-03-01,injury,2025-07-01\n",
    "plans.csv": f"player_id,week_starting,phase\nheron,2025-05-26,{OLD}\nheron,2026-05-25,base\n",
    "mobility.csv": "player_id,date,test,value_deg\nheron,2025-01-01,trunk_turn,41\nheron,2026-01-01,trunk_turn,40\n",
    "rounds.csv": f"player_id,played_on,holes,event\nheron,2025-01-01,9,{OLD}\nheron,2026-01-01,9,cup\n",
    "changes.csv": "player_id,changed_on,kind\nheron,2025-01-01,pause\nheron,2026-01-01,technique\n",
    "decisions.csv": "flag_id,decided_on,role,decision,note,player_id,flag_kind,raised_on\n"
    f"f1,2025-01-10,coach,watch,{OLD},heron,speed_fall,2025-01-09\nf2,2026-01-10,coach,watch,,heron,speed_fall,2026-01-09\n",
}


def years_text(years: dict[str, int]) -> str:
    text = default_settings("Hill", "Europe/Berlin")
    return text.replace("[keep_years]\n", "[keep_years]\n" + "".join(f"{kind} = {n}\n" for kind, n in years.items()))


@pytest.fixture(scope="module")
def laid(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a workspace after a night with old and young rows of every kind; copy it before changing it."""
    made = create_workspace(tmp_path_factory.mktemp("laid") / "hill", years_text(YEARS))
    for name, text in FILES.items():
        (made.inbox / name).write_text(text)
    table = pl.DataFrame(
        {"player_id": ["heron"] * 2, "date": ["2025-01-02", "2026-01-02"], "fatigue": [1, 2], "note": [OLD, YOUNG]}
    )
    table.write_parquet(made.inbox / "checkins_c.parquet")
    (made.inbox / "letter.csv").write_text("a,b\n1,2\n")
    run_night(Night(made, NOW))
    return made.root


@pytest.fixture
def full(laid: Path, tmp_path: Path) -> Workspace:
    return Workspace(Path(shutil.copytree(laid, tmp_path / "hill")))


def held(workspace: Workspace) -> dict[str, int]:
    tables = (
        "session",
        "shot",
        "checkin",
        "problem_report",
        "absence",
        "plan",
        "mobility",
        "round",
        "named_change",
        "decision",
        "player",
    )
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        return {table: int(scalar(con, f'select count(*) from "{table}"')) for table in tables}


LEFT = {
    "session": 1,
    "shot": 1,
    "checkin": 2,
    "problem_report": 1,
    "absence": 1,
    "plan": 1,
    "mobility": 1,
    "round": 1,
    "named_change": 1,
}


def assert_only_young(workspace: Workspace) -> None:
    assert held(workspace) == LEFT | {"decision": 1, "player": 1}
    assert places_naming(workspace, beside=("backups", "site", ".desk")) == {}
    assert [finding for finding in examine(workspace) if finding.state == "broken"] == []


def test_what_is_too_old_is_gone_everywhere_and_the_rest_stays(full: Workspace) -> None:
    before = held(full)
    assert {before[table] - n for table, n in LEFT.items()} == {1, 2}
    assert list(places_naming(full)) != []
    expired = expire_and_rerun(Night(full, NOW))
    assert expired.rows == dict.fromkeys(sorted({*YEARS, "shots"}), 1) | {"checkins": 2}
    assert_only_young(full)
    assert places_naming(full) == {}
    assert any(YOUNG in path.read_text() for path in full.archive.rglob("*.csv"))
    (line,) = [one for one in logged(full) if one.what == "expired"]
    assert "checkins=2" in line.counts
    assert expire_and_rerun(Night(full, NOW)).n_files == 0
    rows = {table: found for table, found in core(full).items() if table != "checkin"}  # of a table, a copy has lines of its own
    full.warehouse.unlink()
    made = rebuild(full, NOW)
    assert (made.differing, made.left_out) == ((), ())
    assert {table: found for table, found in core(full).items() if table in rows} == rows
    assert held(full)["checkin"] == 2


@pytest.mark.parametrize("step", some_of(["redact_lines", "expire_lines", "moved", "keep_list"], every=4))
def test_an_end_in_between_is_finished_by_the_next_time(full: Workspace, monkeypatch: pytest.MonkeyPatch, step: str) -> None:
    really, calls = getattr(retention, step), []

    def stopped(*arguments: object) -> object:
        calls.append(step)
        if len(calls) == (1 if step == "keep_list" else 3):
            raise KeyboardInterrupt
        return really(*arguments)

    with monkeypatch.context() as patch:
        patch.setattr(retention, step, stopped)
        with pytest.raises(KeyboardInterrupt):
            expire(full, NOW.date(), NOW)
    expire_and_rerun(Night(full, NOW))
    assert_only_young(full)


def test_the_weekly_review_takes_it_out_before_it_copies(full: Workspace) -> None:
    review = weekly_review(Night(full, NOW))
    assert review.expired.n_rows == 11
    assert_only_young(full)


def test_the_command_looks_first(full: Workspace, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("pipelines.cli.academy.now", lambda: NOW)
    before = held(full)
    assert main(["expire", "--look", "-w", str(full.root)]) == 0
    assert "checkins 2" in capsys.readouterr().out
    assert held(full) == before
    full.settings.write_text(years_text({}))
    assert main(["expire", "-w", str(full.root)]) == 0
    assert "Nothing expires" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("entry", "says"),
    [
        ("shots = 2", "go with their session"), ("players = 2", "player erase"),
        ("checkins = 0", "from 1 to 100"), ("checkins = 1.5", "whole number"),
    ],
)  # fmt: skip
def test_what_cannot_be_set_is_said(entry: str, says: str) -> None:
    with pytest.raises(SettingsError, match=says):
        settings_from_text(years_text({}).replace("[keep_years]\n", f"[keep_years]\n{entry}\n"))


def test_years_are_counted_by_the_calendar() -> None:
    assert first_day(date(2028, 2, 29), 1) == date(2027, 2, 28)
    assert limits_of({"sessions": 2}, date(2026, 6, 1)) == {"shots": date(2024, 6, 1), "sessions": date(2024, 6, 1)}


def test_a_clock_that_has_jumped_takes_nothing_out_until_it_is_known_to_be_right(full: Workspace) -> None:
    """A machine whose clock stood ten years ahead for one Monday would have forgotten everything, for good."""
    run_night(Night(full, NOW))
    n = "select count(*) from session"
    ahead = NOW + timedelta(days=3650)
    for at in (ahead, ahead + timedelta(days=14)):
        review = weekly_review(Night(full, at))
        assert review.expired.n_files == 0
        assert review.findings[-1].about == "clock"
    back = NOW + timedelta(days=7)
    assert weekly_review(Night(full, back)).expired.n_files == 0
    with open_warehouse(full.warehouse, read_only=True) as con:
        assert scalar(con, n) == 2
    for days in (14, 21, 28):
        run_night(Night(full, NOW + timedelta(days=days)))
    review = weekly_review(Night(full, NOW + timedelta(days=36)))
    assert review.expired.rows["sessions"] >= 1
    assert "clock" not in {finding.about for finding in review.findings}
