from __future__ import annotations

import os
from pathlib import Path

import pytest

from pipelines.workspace import (
    FOLDERS,
    create_workspace,
    find_workspace,
    is_held,
    local_time_zone,
    require_writable,
    writing,
)
from schemas.errors import WarehouseBusyError, WorkspaceError
from warehouse.connection import open_warehouse, scalar


def test_a_new_workspace_has_its_folders_and_settings(tmp_path: Path) -> None:
    workspace = create_workspace(tmp_path / "deep" / "lakeside")
    assert sorted(item.name for item in workspace.root.iterdir()) == sorted((*FOLDERS, "academy.toml"))
    assert workspace.academy().name == "lakeside"
    assert find_workspace(workspace.root) == workspace


def test_a_workspace_is_not_made_twice(tmp_path: Path) -> None:
    create_workspace(tmp_path)
    with pytest.raises(WorkspaceError, match="already"):
        create_workspace(tmp_path)


def test_where_none_is_it_says_how_to_make_one(tmp_path: Path) -> None:
    with pytest.raises(WorkspaceError, match="speedworth new"):
        find_workspace(tmp_path)


def test_a_folder_below_a_file_cannot_be_made(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(WorkspaceError, match="cannot be written"):
        create_workspace(tmp_path / "file" / "lakeside")


def test_a_part_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    workspace = create_workspace(tmp_path)
    workspace.archive.rmdir()
    workspace.archive.touch()
    with pytest.raises(WorkspaceError, match="archive cannot be written"):
        require_writable(workspace)


def test_a_missing_folder_is_made_again(tmp_path: Path) -> None:
    workspace = create_workspace(tmp_path)
    workspace.inbox.rmdir()
    require_writable(workspace)
    assert workspace.inbox.is_dir()


def test_one_process_writes_at_a_time(tmp_path: Path) -> None:
    workspace = create_workspace(tmp_path)
    assert not is_held(workspace)
    with writing(workspace, "a run"):
        assert is_held(workspace)
        with pytest.raises(WarehouseBusyError, match=f"a run, process {os.getpid()}"), writing(workspace, "another", wait_s=0.15):
            pass
    assert not is_held(workspace)
    with writing(workspace, "another"):
        pass


def test_what_a_killed_run_left_of_rows_outside_memory_is_cleared(tmp_path: Path) -> None:
    workspace = create_workspace(tmp_path / "hill")
    with open_warehouse(workspace.warehouse) as con:
        spilled = Path(scalar(con, "select current_setting('temp_directory')"))  # where the database puts what memory cannot hold
    spilled.mkdir()
    (spilled / "duckdb_temp_storage_S32K-0.tmp").write_bytes(b"heron")
    with writing(workspace, "a run"):
        assert not spilled.exists()


def test_the_time_zone_of_this_machine_comes_from_the_environment_first(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("TZ", ":Europe/Berlin")
    assert local_time_zone() == "Europe/Berlin"


@pytest.mark.parametrize(
    ("target", "name"),
    [
        ("/usr/share/zoneinfo/America/New_York", "America/New_York"),
        ("/usr/share/zoneinfo/posix/Asia/Tokyo", "Asia/Tokyo"),
        ("/etc/localtime", "UTC"),
    ],
)
def test_the_time_zone_of_this_machine_is_read_from_its_link(monkeypatch: pytest.MonkeyPatch, target: str, name: str) -> None:
    monkeypatch.delenv("TZ", raising=False)
    monkeypatch.setattr(os.path, "realpath", lambda _: target)
    assert local_time_zone() == name
