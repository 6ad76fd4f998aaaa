from __future__ import annotations

import tarfile
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from pipelines.stages.backup import back_up, restore
from pipelines.workspace import Workspace, create_workspace, writing
from schemas.errors import NotFoundError, WarehouseBusyError, WarehouseNewerError, WorkspaceError
from warehouse.connection import open_warehouse, scalar

if TYPE_CHECKING:
    from pathlib import Path

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)
LATER = datetime(2026, 3, 2, 12, tzinfo=UTC)


@pytest.fixture
def workspace(tmp_path: Path) -> Workspace:
    made = create_workspace(tmp_path / "lakeside")
    (made.archive / "a").write_text("original")
    with open_warehouse(made.warehouse) as con:
        con.execute("insert into academy values ('Lakeside', 'UTC')").fetchall()
    return made


def test_a_backup_brings_everything_back_and_keeps_what_it_replaced(workspace: Workspace) -> None:
    backup = back_up(workspace, NOON)
    assert backup.n_files == 3
    (workspace.archive / "a").write_text("spoiled")
    (workspace.inbox / "waiting.csv").write_text("x")
    with open_warehouse(workspace.warehouse) as con:
        con.execute("delete from academy").fetchall()
    aside = restore(workspace, backup.path, LATER)
    assert (workspace.archive / "a").read_text() == "original"
    assert (aside / "archive" / "a").read_text() == "spoiled"
    assert (workspace.inbox / "waiting.csv").exists()
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        assert scalar(con, "select name from academy") == "Lakeside"
    assert not list(workspace.root.glob(".restore-*"))


def test_a_backup_can_be_brought_to_another_machine(workspace: Workspace, tmp_path: Path) -> None:
    backup = back_up(workspace, NOON)
    restore(Workspace(tmp_path / "elsewhere"), backup.path, LATER)
    assert Workspace(tmp_path / "elsewhere").academy().name == "lakeside"


def test_a_damaged_backup_changes_nothing(workspace: Workspace) -> None:
    backup = back_up(workspace, NOON)
    whole = backup.path.read_bytes()
    backup.path.write_bytes(whole[: len(whole) // 2])
    with pytest.raises(WorkspaceError, match="not a whole backup"):
        restore(workspace, backup.path, LATER)
    assert (workspace.archive / "a").read_text() == "original"


def test_a_backup_with_an_exchanged_file_is_refused(workspace: Workspace, tmp_path: Path) -> None:
    backup = back_up(workspace, NOON)
    with tarfile.open(backup.path) as tar:
        tar.extractall(tmp_path / "open", filter="data")
    (tmp_path / "open" / "archive" / "a").write_text("other")
    with tarfile.open(backup.path, "w:gz") as tar:
        tar.add(tmp_path / "open", arcname=".")
    with pytest.raises(WorkspaceError, match=r"damaged: archive/a"):
        restore(workspace, backup.path, LATER)


def test_a_backup_of_a_newer_version_is_refused(workspace: Workspace) -> None:
    with open_warehouse(workspace.warehouse) as con:
        con.execute("insert into migration values (9999, 'later', 'x', timestamp '2030-01-01')").fetchall()
    with pytest.raises(WarehouseNewerError):
        back_up(workspace, NOON)


def test_what_is_not_there_is_not_restored(workspace: Workspace) -> None:
    with pytest.raises(NotFoundError, match="backups"):
        restore(workspace, workspace.backups / "none.tar.gz", NOON)


def test_no_backup_while_a_run_is_at_work(workspace: Workspace) -> None:
    with writing(workspace, "a run"), pytest.raises(WarehouseBusyError, match="a run"):
        back_up(workspace, NOON)
