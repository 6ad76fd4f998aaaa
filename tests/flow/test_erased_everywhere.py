"""An erasure reaches every place in which the person stands, and nothing brings the person back."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from pipelines.runs import Night, erase_and_rerun, run_night, take_in_waiting
from pipelines.stages.backup import back_up
from pipelines.stages.doctor import examine
from pipelines.stages.forgotten import read_forgotten
from pipelines.stages.restore import restore
from pipelines.workspace import Workspace
from tests.flow.planted import ID, NAMES, TEXTS, drop_all, places_naming, planted_academy
from warehouse.connection import open_warehouse, scalar

if TYPE_CHECKING:
    from pathlib import Path

NOW = datetime(2026, 1, 22, 21, tzinfo=UTC)
LATER = NOW + timedelta(days=1)


@pytest.fixture(scope="module")
def planted(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    """Taken through a night, with a backup."""
    made = planted_academy(tmp_path_factory.mktemp("planted") / "hill")
    run_night(Night(made, NOW))
    back_up(made, NOW)
    return made


@pytest.fixture(scope="module")
def erased(planted: Workspace, tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    copy = tmp_path_factory.mktemp("erased") / "hill"
    shutil.copytree(planted.root, copy)
    erase_and_rerun(Night(Workspace(copy), LATER), ID)
    return Workspace(copy)


def own(workspace: Workspace, tmp_path: Path) -> Workspace:
    shutil.copytree(workspace.root, tmp_path / "own")
    return Workspace(tmp_path / "own")


def test_the_person_stands_in_many_places_before(planted: Workspace) -> None:
    found = places_naming(planted)
    told = {name for names in found.values() for name in names}
    assert len(NAMES) + len(TEXTS) == 30
    assert {text.lower() for text in TEXTS} <= told
    folders = {name.split("/")[0] for name in found}
    assert folders >= {"archive", "quarantine", "site", "academy.duckdb", "mappings", ".prefect", "player-links.csv"}


def test_nothing_is_left_of_the_person(erased: Workspace) -> None:
    assert places_naming(erased) == {}
    with open_warehouse(erased.warehouse, read_only=True) as con:
        assert scalar(con, "select note from session where session_id = 'h-1'") == "played with [erased] and [erased], a golfer"
        assert scalar(con, "select alias from player where player_id = 'wren'") == "Wren Golfer"
        assert scalar(con, "select count(*) from shot") == 4
    assert [finding for finding in examine(erased) if finding.state == "broken"] == []


def test_a_restored_backup_and_old_files_bring_nothing_back(erased: Workspace, tmp_path: Path) -> None:
    workspace = own(erased, tmp_path)
    (copy,) = workspace.backups.glob("speedworth-*")
    restore(workspace, copy, LATER)
    assert places_naming(workspace) == {}
    take_in_waiting(Night(workspace, LATER))
    assert places_naming(workspace) == {}
    drop_all(workspace)
    run_night(Night(workspace, LATER + timedelta(hours=1)))
    assert places_naming(workspace) == {}


def test_changed_files_that_are_dropped_bring_nothing_back(erased: Workspace, tmp_path: Path) -> None:
    workspace = own(erased, tmp_path)
    drop_all(workspace)
    for path in workspace.inbox.iterdir():
        if path.suffix in {".csv", ".jsonl"}:
            path.write_bytes(path.read_bytes() + b"\n")
    intake = run_night(Night(workspace, LATER + timedelta(hours=1))).intake
    assert places_naming(workspace) == {}
    assert intake.n_turned_away > 15
    assert "turned away lines=" in workspace.log.read_text()
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        assert scalar(con, "select count(*) from shot") == 4


def test_the_marks_name_nobody_and_lie_in_no_backup(erased: Workspace, tmp_path: Path) -> None:
    workspace = own(erased, tmp_path)
    marks = (workspace.root / ".forgotten.json").read_text()
    assert not any(name in marks for name in NAMES)
    forgotten = read_forgotten(workspace.root)
    assert forgotten is not None
    assert forgotten.people_in([ID, "heron", "wren", "g-1"]) == (ID,)
    copy = back_up(workspace, LATER + timedelta(hours=2)).path
    shutil.rmtree(workspace.archive)
    restore(workspace, copy, LATER + timedelta(hours=3))
    assert (workspace.root / ".forgotten.json").read_text() == marks
