from __future__ import annotations

import errno
import shutil
from collections import namedtuple
from typing import TYPE_CHECKING

import pytest

from pipelines.runs import Night, run_whole_night
from pipelines.stages import doctor
from pipelines.stages.doctor import Finding, examine
from pipelines.workspace import Workspace, create_workspace, writing
from schemas.errors import WorkspaceError
from tests.flow.conftest import NIGHT
from warehouse.connection import open_warehouse

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def workspace(tmp_path: Path) -> Workspace:
    made = create_workspace(tmp_path / "lakeside")
    with open_warehouse(made.warehouse) as con:
        con.execute("insert into academy values ('Lakeside', ?)", [made.academy().time_zone]).fetchall()
    return made


def found(workspace: Workspace) -> dict[str, Finding]:
    return {finding.about: finding for finding in examine(workspace)}


def test_a_sound_workspace_is_fine_in_every_respect(workspace: Workspace) -> None:
    assert {finding.state for finding in examine(workspace)} == {"fine"}
    assert "polars" in found(workspace)["versions"].says


def test_a_workspace_before_its_first_run_wants_a_look(tmp_path: Path) -> None:
    assert found(create_workspace(tmp_path))["warehouse"].todo == "It is made by `speedworth run`."


def test_unusable_settings_are_broken(workspace: Workspace) -> None:
    workspace.settings.write_text("[academy]\n")
    finding = found(workspace)["settings"]
    assert (finding.state, finding.exit_code) == ("broken", 4)


def test_a_changed_time_zone_is_told(workspace: Workspace) -> None:
    workspace.settings.write_text('[academy]\nname = "x"\ntime_zone = "Asia/Tokyo"\n')
    finding = found(workspace)["time zone"]
    assert finding.state == "look"
    assert "Asia/Tokyo" in finding.says


def test_broken_rows_are_counted(workspace: Workspace) -> None:
    with open_warehouse(workspace.warehouse) as con:
        con.execute(
            "insert into plan by name select 'p1' as player_id, date '2026-01-05' as week_starting, 'gone' as file_id, 2 as line"
        )
    finding = found(workspace)["rows_without_file"]
    assert (finding.state, finding.says, finding.exit_code) == ("broken", "1 offending rows", 9)


def test_waiting_files_a_lock_and_a_full_disk_are_told(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    (workspace.inbox / "shots_1.csv").touch()
    usage = namedtuple("usage", "total used free")
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage(10, 9, 1))
    with writing(workspace, "a run"):
        findings = found(workspace)
    assert findings["inbox"].says == "1 file waits"
    assert findings["disk"].state == "look"
    assert "at work" in findings["lock"].says


def test_a_warehouse_of_a_newer_version_is_broken(workspace: Workspace) -> None:
    with open_warehouse(workspace.warehouse) as con:
        con.execute("insert into migration values (9999, 'later', 'x', timestamp '2030-01-01')").fetchall()
    assert found(workspace)["warehouse"].exit_code == 8


def test_it_changes_nothing(workspace: Workspace) -> None:
    def findings() -> list[doctor.Finding]:
        return [one for one in doctor.examine(workspace) if one.about != "disk"]  # others on the machine write meanwhile

    before = workspace.warehouse.read_bytes()
    assert findings() == findings()
    assert workspace.warehouse.read_bytes() == before


def test_rows_that_stand_are_held_against_what_is_computed_now(finished: Workspace) -> None:
    assert found(finished)["standing rows"].state == "fine"
    with open_warehouse(finished.warehouse) as con:
        con.execute("update session_club set n_shots = n_shots + 1").fetchall()
        con.execute("update pattern_month set n_shots = n_shots + 1").fetchall()
    finding = found(finished)["standing rows"]
    assert (finding.state, finding.exit_code) == ("broken", 9)
    assert all(table in finding.says for table in ("pattern_month", "session_club"))
    with open_warehouse(finished.warehouse) as con:  # patterns rest on these rows: without them theirs are stale
        con.execute("delete from comparable_shot where shot_no = 1").fetchall()
    finding = found(finished)["standing rows"]
    assert finding.state == "broken"
    assert all(table in finding.says for table in ("comparable_shot", "session_club"))
    assert "run --full" in finding.todo
    run_whole_night(Night(finished, NIGHT))
    assert found(finished)["standing rows"].state == "fine"


def test_a_folder_that_cannot_be_written_is_examined_all_the_same(workspace: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    def read_only(*_: object) -> None:
        raise OSError(errno.EROFS, "Read-only file system")

    monkeypatch.setattr(doctor, "is_held", read_only)
    told = found(workspace)
    assert told["lock"].says == "cannot be told: Read-only file system"
    assert told["warehouse"].state == "fine"


def test_a_mapping_that_is_gone_or_broken_is_named_with_its_files(workspace: Workspace) -> None:
    with open_warehouse(workspace.warehouse) as con:
        con.execute(
            """
            insert into file (file_id, name, kind, mapping, modified_at, received_at, bytes, n_rows, n_loaded, n_quarantined,
              n_ignored, n_warnings, status, kept_as, redacted, n_emptied)
            select 'f' || n, 'bay/x' || n, 'shots', 'bay', now(), now(), 1, 1, 1, 0, 0, 0, 'loaded', '', false, 0
            from range(2) as t (n)
            """
        ).fetchall()
    assert found(workspace)["mappings"].says == "bay.toml is gone (2 files)"
    (workspace.mappings / "bay.toml").write_text("kind = shots\n")
    assert found(workspace)["mappings"].says.startswith("bay.toml cannot be used: ")
    assert "archive/mappings" in found(workspace)["mappings"].todo


def test_copies_that_a_synchronised_folder_has_made_are_named(workspace: Workspace) -> None:
    copies = [
        workspace.settings.with_name("academy (1).toml"),
        workspace.warehouse.with_name("academy (Anna's conflicted copy 2026-01-02).duckdb"),
        workspace.mappings / "bay - Copy.toml",
        workspace.mappings / "bay.sync-conflict-20260102-101010-ABC.toml",
    ]
    (workspace.mappings / "bay.toml").write_text('kind = "shots"\n')
    (workspace.mappings / "hall (2).toml").write_text('kind = "shots"\n')  # a mapping of that name
    assert "copies" not in {finding.about for finding in examine(workspace)}
    for path in copies:
        path.write_text("x")
    found = {finding.about: finding for finding in examine(workspace)}["copies"]
    assert found.state == "look"
    assert sorted(found.says.split(", ")) == sorted(str(path.relative_to(workspace.root)) for path in copies)


def test_no_workspace_is_made_inside_another(workspace: Workspace) -> None:
    for folder in (workspace.inbox, workspace.site / "x"):
        with pytest.raises(WorkspaceError, match="lies inside the workspace"):
            create_workspace(folder)
        assert not (folder / "academy.toml").exists()


def test_an_empty_warehouse_beside_originals_is_broken(workspace: Workspace) -> None:
    place = workspace.archive / "ab" / "abc.csv"
    place.parent.mkdir()
    place.write_text("x")
    files = found(workspace)["files"]
    assert (files.state, files.exit_code) == ("broken", 6)
    assert "speedworth rebuild" in files.todo
