"""A lost or emptied warehouse never publishes an empty academy, and a restored one never leaves another night's pages."""

from __future__ import annotations

import shutil
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest

from pipelines.cli.main import main
from pipelines.runs import Night, run_night
from pipelines.stages.backup import back_up
from pipelines.stages.restore import restore
from schemas.errors import WarehouseError
from tests.flow.conftest import NIGHT
from warehouse.connection import open_warehouse

if TYPE_CHECKING:
    from pathlib import Path

    from pipelines.workspace import Workspace


def pages(workspace: Workspace) -> dict[str, bytes]:
    return {str(path.relative_to(workspace.site)): path.read_bytes() for path in workspace.site.rglob("*.html")}


@pytest.mark.parametrize("lost", ["missing", "empty", "new"])
def test_a_run_refuses_when_the_warehouse_is_gone_and_the_archive_is_not(finished: Workspace, lost: str) -> None:
    before = pages(finished)
    finished.warehouse.unlink()
    if lost == "empty":
        finished.warehouse.touch()
    if lost == "new":
        with open_warehouse(finished.warehouse):
            pass
    with pytest.raises(WarehouseError, match=r"restore|archive"):
        run_night(Night(finished, NIGHT))
    assert pages(finished) == before


def test_the_command_says_it_in_one_line(finished: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    finished.warehouse.unlink()
    assert main(["run", "-w", str(finished.root), "--quiet"]) == WarehouseError.exit_code
    told = capsys.readouterr().err
    assert told.count("\n") == 1
    assert "speedworth restore" in told


def test_a_new_workspace_and_one_whose_first_run_was_cut_short_are_taken_in(workspace: Workspace) -> None:
    place = workspace.archive / "ab" / "abcdef.redacted.csv"  # written before the first commit
    place.parent.mkdir()
    place.write_text("player_id,date\n")
    assert run_night(Night(workspace, NIGHT)).intake.files


def test_after_a_restore_the_pages_are_those_of_the_copy(finished: Workspace) -> None:
    before = pages(finished)
    copy = back_up(finished, NIGHT).path
    (finished.inbox / "players_more.csv").write_text("player_id,alias\nP99,Whimbrel\n")
    run_night(Night(finished, NIGHT + timedelta(hours=1)))
    with_more = pages(finished)
    assert with_more != before
    restore(finished, copy, NIGHT + timedelta(hours=2))
    run_night(Night(finished, NIGHT + timedelta(hours=3)))
    after = pages(finished)
    assert "Whimbrel" not in b"".join(after.values()).decode()
    assert after == before


def test_a_link_dropped_does_not_spoil_backups(finished: Workspace, tmp_path: Path) -> None:
    elsewhere = tmp_path / "elsewhere.csv"
    elsewhere.write_text("secret")
    (finished.inbox / "shots_link.csv").symlink_to(elsewhere)
    run_night(Night(finished, NIGHT + timedelta(hours=1)))
    (finished.quarantine / "planted").symlink_to(elsewhere)
    copy = back_up(finished, NIGHT + timedelta(hours=2)).path
    shutil.rmtree(finished.archive)
    restore(finished, copy, NIGHT + timedelta(hours=3))
    assert any(finished.archive.rglob("*.csv"))


def test_a_backup_that_cannot_be_read_again_is_not_kept(finished: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    from pipelines.stages import backup  # noqa: PLC0415 - one function of it is replaced
    from schemas.errors import WorkspaceError  # noqa: PLC0415 - only here

    really = backup._write

    def cut_short(target: Path, *rest: object) -> None:
        really(target, *rest)  # type: ignore[arg-type]
        target.write_bytes(target.read_bytes()[:-4000])

    monkeypatch.setattr(backup, "_write", cut_short)
    with pytest.raises(WorkspaceError, match="not a whole backup"):
        back_up(finished, NIGHT)
    assert list(finished.backups.iterdir()) == []
