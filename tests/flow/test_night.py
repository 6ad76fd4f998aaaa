"""From dropped files to pages: files that a person wrote in a spreadsheet, taken through a whole night."""

from __future__ import annotations

import hashlib
from datetime import date, timedelta
from typing import TYPE_CHECKING

import pytest

from pipelines import runs
from pipelines.runs import Night, run_night, take_in_waiting, weekly_review
from schemas.errors import WarehouseBusyError
from schemas.files import KINDS
from tests.flow.conftest import NIGHT
from warehouse.connection import frame, open_warehouse, scalar

if TYPE_CHECKING:
    from pathlib import Path

    from pipelines.workspace import Workspace


def contents(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file()
    }


def row_counts(workspace: Workspace) -> dict[str, int]:
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        names = [row[0] for row in con.execute("select table_name from duckdb_tables() order by 1").fetchall()]
        return {name: scalar(con, f'select count(*) from "{name}"') for name in names}


def test_files_of_a_spreadsheet_are_loaded_and_their_faults_are_named_step_by_step(workspace: Workspace) -> None:
    told: list[str] = []
    outcome = run_night(Night(workspace, NIGHT, told.append))
    assert told[0] == "Taking in files"
    assert [step for step in told if not step.startswith("Taking in")] == [step for step, _ in runs.MEASURES] + [
        "Writing the pages"
    ]
    assert {file.status for file in outcome.intake.files} == {"loaded"}
    assert outcome.intake.n_rows == outcome.intake.n_loaded + outcome.intake.n_quarantined == 85
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        assert scalar(con, "select alias from player where player_id = 'heron'") == "Heron, the tall one"
        assert scalar(con, "select alias from player where player_id = 'stork'") == 'Stork "Storky"'
        assert scalar(con, "select note from checkin where player_id = 'heron' and fatigue = 6").endswith('"not worried"')
        assert scalar(con, "select started_at from session where session_id = 'w-0106'").isoformat() == "2026-01-06T15:00:00"
        assert scalar(con, "select on_date from session_day where session_id = 'h-0108'") == date(2026, 1, 8)
        rules = {rule for (rule,) in con.execute("select distinct rule from problem where severity <> 'warning'").fetchall()}
        assert {"out_of_range", "unknown_word", "unknown_player"} <= rules
        ledger = frame(con, "select n_rows, n_loaded, n_quarantined from file")
        assert (ledger["n_rows"] == ledger["n_loaded"] + ledger["n_quarantined"]).all()
        assert scalar(con, "select club_speed_mps_centre from session_club where session_id = 'h-0105'") == pytest.approx(
            47.5, rel=0.02
        )
    assert not list(workspace.inbox.rglob("*.csv"))


def test_the_body_is_kept_only_with_consent(finished: Workspace) -> None:
    with open_warehouse(finished.warehouse, read_only=True) as con:
        assert con.execute("select distinct player_id from checkin order by 1").fetchall() == [("heron",), ("wren",)]


def test_the_warehouse_is_written_anew_when_somebody_no_longer_agrees(finished: Workspace) -> None:
    before = finished.warehouse.stat().st_ino
    (finished.inbox / "players_later.csv").write_text("player_id,alias,health_consent\nwren,Wren,false\n", encoding="utf-8")
    run_night(Night(finished, NIGHT + timedelta(days=1)))
    assert not finished.rewrite_due.exists()
    assert finished.warehouse.stat().st_ino != before
    with open_warehouse(finished.warehouse, read_only=True) as con:
        assert con.execute("select distinct player_id from checkin").fetchall() == [("heron",)]


def test_a_second_run_changes_nothing_and_measures_nothing(finished: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    counts, site = row_counts(finished), contents(finished.site)
    monkeypatch.setattr(runs, "MEASURES", (("must not be called", None),))
    outcome = run_night(Night(finished, NIGHT + timedelta(days=1)))
    assert not outcome.intake.changed
    assert (row_counts(finished), contents(finished.site)) == (counts, site)
    assert (outcome.site.n_written, outcome.site.n_unchanged) == (0, len(site))


def test_measuring_and_rendering_again_gives_the_same_bytes(finished: Workspace) -> None:
    counts, site = row_counts(finished), contents(finished.site)
    with open_warehouse(finished.warehouse) as con:
        con.execute("delete from night_state").fetchall()
    outcome = run_night(Night(finished, NIGHT + timedelta(days=30)))
    assert outcome.site.n_written == 0
    assert (row_counts(finished), contents(finished.site)) == (counts, site)


def test_a_lost_site_is_written_again_the_same(finished: Workspace) -> None:
    site = contents(finished.site)
    for path in sorted(finished.site.rglob("*"), reverse=True):
        path.unlink() if path.is_file() else path.rmdir()
    run_night(Night(finished, NIGHT))
    assert contents(finished.site) == site


def test_the_same_files_give_the_same_pages_in_another_workspace(finished: Workspace, workspace: Workspace) -> None:
    workspace.key_file.write_bytes(finished.site_key())
    run_night(Night(workspace, NIGHT + timedelta(days=3)))
    pages = {name: digest for name, digest in contents(workspace.site).items() if not name.startswith("data/")}
    others = contents(finished.site)
    first = {"coach/index.html", "physio/index.html"}  # these say when files last came, and nothing else that differs
    assert {name for name, digest in pages.items() if others.get(name) != digest} == first
    for name in first:
        here, there = ((made.site / name).read_text(encoding="utf-8") for made in (workspace, finished))
        assert here.replace("15 January 2026", "12 January 2026") == there


def test_changed_settings_are_followed(finished: Workspace) -> None:
    text = finished.settings.read_text(encoding="utf-8")
    finished.settings.write_text(text.replace('speed = "mph"', 'speed = "km/h"'), encoding="utf-8")
    assert run_night(Night(finished, NIGHT)).site.n_written > 0


def test_a_night_that_breaks_off_is_done_again(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    def break_off(*_: object) -> None:
        raise RuntimeError("power cut")

    with monkeypatch.context() as patch:
        patch.setattr(runs, "MEASURES", (*runs.MEASURES, ("breaking off", break_off)))
        with pytest.raises(RuntimeError):
            run_night(Night(workspace, NIGHT))
    outcome = run_night(Night(workspace, NIGHT))
    assert outcome.site.n_written > 0
    assert row_counts(workspace)["session_club"] > 0


def test_intake_alone_leaves_the_pages_for_the_night(workspace: Workspace) -> None:
    assert take_in_waiting(Night(workspace, NIGHT)).n_rows == 85
    assert not list(workspace.site.iterdir())
    assert run_night(Night(workspace, NIGHT)).site.n_written > 0


def test_one_run_at_a_time(workspace: Workspace) -> None:
    from pipelines.workspace import writing  # noqa: PLC0415 - beside its use

    with writing(workspace, "a run"), pytest.raises(WarehouseBusyError):
        run_night(Night(workspace, NIGHT))


def test_the_weekly_review_examines_and_backs_up(finished: Workspace) -> None:
    review = weekly_review(Night(finished, NIGHT))
    assert review.backup.path.exists()
    assert "broken" not in {finding.state for finding in review.findings}


def test_every_table_of_files_counts_in_what_a_night_was_made_from() -> None:
    from warehouse.night import _INPUTS  # noqa: PLC0415 - a private constant, compared with the contracts

    assert {kind.table for kind in KINDS.values()} <= set(_INPUTS)
