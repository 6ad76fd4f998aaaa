"""A lost warehouse is made anew from the archive: the same rows, and the same pages byte by byte."""

from __future__ import annotations

import os
import shutil
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest

from pipelines.cli.main import main
from pipelines.runs import Night, run_night, take_in_waiting
from pipelines.stages.intake import AskedAgain, held_ids, take_in
from pipelines.stages.player_erasure import erase_player
from pipelines.stages.rebuild import damaged_originals, listed_originals, rebuild
from pipelines.stages.withdraw import withdraw_file
from pipelines.workspace import Workspace, create_workspace
from schemas.errors import NotFoundError, WarehouseCorruptError, WarehouseError
from schemas.files import KINDS
from tests.flow.conftest import NIGHT
from tests.full_disk import no_file_beyond
from warehouse.connection import frame, open_warehouse
from warehouse.migrate import audits

if TYPE_CHECKING:
    from pathlib import Path

    from tests.conftest import DropFolder

CORE = (*(kind.table for kind in KINDS.values()), "file", "problem", "superseded_row", "consent", "academy")


def core(workspace: Workspace) -> dict[str, list[tuple[object, ...]]]:
    with open_warehouse(workspace.warehouse) as con:
        return {table: sorted(frame(con, f'select * from "{table}"').rows(), key=str) for table in CORE}


def pages(workspace: Workspace) -> dict[str, bytes]:
    return {str(path.relative_to(workspace.site)): path.read_bytes() for path in workspace.site.rglob("*") if path.is_file()}


@pytest.fixture
def lived(workspace: Workspace) -> Workspace:
    """Three nights: corrected, withdrawn, held, mapped and replaced files."""
    run_night(Night(workspace, NIGHT))
    inbox = workspace.inbox
    (inbox / "players_b.csv").write_text("player_id,alias,health_consent\nP77,Whimbrel,true\nP78,Knot,false\n")
    (inbox / "checkins_b.csv").write_text("player_id,date,fatigue\nP77,2026-01-10,3\nP78,2026-01-10,9\nP79,2026-01-10,4\n")
    (inbox / "unheard.csv").write_text("a,b\n1,2\n")
    (workspace.mappings / "bay.toml").write_text('kind = "plans"\n[columns]\nplayer_id = "who"\nweek_starting = "week"\n')
    (inbox / "bay").mkdir()
    (inbox / "bay" / "weeks.csv").write_text("who,week\nP77,2026-01-05\nP99,2026-01-05\n")
    run_night(Night(workspace, NIGHT + timedelta(days=1)))
    (workspace.mappings / "bay.toml").write_text('kind = "rounds"\n')
    (inbox / "players_c.csv").write_text("player_id,alias,health_consent\nP77,Whimbrel,false\nP99,Dunlin,true\n")
    run_night(Night(workspace, NIGHT + timedelta(days=2)))
    return workspace


def test_the_same_rows_and_the_same_pages_come_back(lived: Workspace) -> None:
    rows, before = core(lived), pages(lived)
    quarantine = {path.name: path.read_bytes() for path in lived.quarantine.rglob("*") if path.is_file()}
    lived.warehouse.unlink()
    shutil.rmtree(lived.site)
    made = rebuild(lived, NIGHT + timedelta(days=3))
    assert (made.differing, made.left_out, made.aside) == ((), (), None)
    assert core(lived) == rows
    run_night(Night(lived, NIGHT + timedelta(days=2)))
    assert pages(lived) == before
    assert {path.name: path.read_bytes() for path in lived.quarantine.rglob("*") if path.is_file()} == quarantine
    assert not list(lived.root.glob(".rebuild*"))


def test_a_standing_warehouse_is_kept_aside(finished: Workspace) -> None:
    rows = core(finished)
    made = rebuild(finished, NIGHT)
    assert made.aside is not None
    assert (made.aside / "academy.duckdb").exists()
    assert core(finished) == rows


@pytest.mark.parametrize("harm", ["changed", "gone"])
def test_a_damaged_original_stops_it_until_told_otherwise(finished: Workspace, harm: str) -> None:
    finished.warehouse.unlink()
    victim = min(finished.archive.glob("??/*.csv"))
    if harm == "gone":
        victim.unlink()
    else:
        victim.write_bytes(victim.read_bytes() + b"\n")
    with pytest.raises(WarehouseCorruptError, match="--incomplete"):
        rebuild(finished, NIGHT)
    assert not finished.warehouse.exists()
    assert rebuild(finished, NIGHT, incomplete=True).left_out == (str(victim.relative_to(finished.root)),)


def test_without_a_list_or_with_a_damaged_one_it_says_what_to_do(finished: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    path = finished.archive / "originals.jsonl"
    path.write_text("{")
    with pytest.raises(WarehouseCorruptError, match="damaged"):
        rebuild(finished, NIGHT)
    path.unlink()
    assert main(["rebuild", "-w", str(finished.root), "-q"]) == NotFoundError.exit_code
    assert capsys.readouterr().err.count("\n") == 1
    run_night(Night(finished, NIGHT))
    assert path.exists()


def test_a_replaced_and_corrected_delivery_is_rebuilt_as_it_stands(folder: DropFolder) -> None:
    folder.people()
    head = "session_id,player_id,shot_no,struck_at,club,club_speed_mps\n"
    folder.drop("shots_a.csv", head + "S1,P1,1,2026-03-14T10:00:00,driver,44\nS1,P1,2,2026-03-14T10:01:00,driver,fast\n")
    folder.drop("shots_wait.csv", head + "S9,P9,1,2026-03-14T10:00:00,driver,44\n")
    folder.run()
    folder.drop("shots_b.csv", head + "S1,P1,1,2026-03-14T10:00:00,driver,45\n")
    folder.drop("players_b.csv", "player_id,alias\nP9,Sanderling\n")
    folder.run()
    drop_folder = Workspace(folder.root)
    (folder.root / "academy.toml").write_text('[academy]\nname = "Lakeside"\ntime_zone = "Europe/Berlin"\n')
    rows = core(drop_folder)
    drop_folder.warehouse.unlink()
    assert rebuild(drop_folder, NIGHT).differing == ()
    assert core(drop_folder) == rows


def test_held_files_of_which_no_line_is_told_come_back(folder: DropFolder) -> None:
    """All that is wrong with them is wrong with the whole file."""
    folder.people()
    folder.drop("unheard_of.csv", "a,b\n1,2\n")
    folder.drop("shots_empty.csv", "")
    folder.run()
    (folder.root / "academy.toml").write_text('[academy]\nname = "Lakeside"\ntime_zone = "Europe/Berlin"\n')
    told = "select file.name, rule, line from problem join file using (file_id) order by all"
    before = folder.rows(told).rows()
    assert before == [("shots_empty.csv", "empty_file", None), ("unheard_of.csv", "unknown_kind", None)]
    assert rebuild(Workspace(folder.root), NIGHT).differing == ()
    assert folder.rows(told).rows() == before


def test_killed_in_between_it_leaves_what_stood(finished: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    from pipelines.stages import rebuild as module  # noqa: PLC0415 - one function of it is replaced

    rows = core(finished)

    def killed(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(module, "_put_told_ledger", killed)
    with pytest.raises(KeyboardInterrupt):
        rebuild(finished, NIGHT)
    assert core(finished) == rows


def test_files_taken_back_and_corrections_confirmed_come_back_as_such(tmp_path: Path) -> None:
    workspace = create_workspace(tmp_path / "academy")
    header = "session_id,player_id,shot_no,struck_at,club,club_speed_mps\n"
    three = [f"S1,P1,{n},2026-01-10T10:0{n}:00,driver,4{n}\n" for n in range(1, 4)]
    files = {
        "players_a.csv": "player_id,alias\nP1,Heron\n",
        "sessions_a.csv": "session_id,player_id,started_at,kind\nS1,P1,2026-01-10T10:00:00,range\n",
        "shots_a.csv": header + "".join(three),
        "shots_b.csv": header + "".join(three[:2]).replace(",4", ",5"),
        "plans_a.csv": "player_id,week_starting,minutes\nP1,2026-01-05,100\n",
        "plans_b.csv": "player_id,week_starting,minutes\nP1,2026-01-05,200\n",
    }
    for clock, (name, text) in enumerate(files.items()):
        (workspace.inbox / name).write_text(text)
        os.utime(workspace.inbox / name, (1_770_000_000 + clock,) * 2)
    take_in_waiting(Night(workspace, NIGHT))
    with open_warehouse(workspace.warehouse) as con:
        asked = AskedAgain(held_ids(con), accepted=True)
        take_in(workspace.root, con, workspace.academy(), NIGHT + timedelta(hours=1), asked=asked)
    withdraw_file(workspace, "plans_b.csv", NIGHT + timedelta(hours=2))
    take_in_waiting(Night(workspace, NIGHT + timedelta(hours=2)))
    rows = core(workspace)
    assert len(rows["shot"]) == 2
    workspace.warehouse.unlink()
    assert rebuild(workspace, NIGHT + timedelta(days=3)).differing == ()
    again = core(workspace)
    assert {name: again[name] for name in ("shot", "plan", "superseded_row")} == {
        name: rows[name] for name in ("shot", "plan", "superseded_row")
    }
    statuses = "select name, status from file order by name"
    with open_warehouse(workspace.warehouse) as con:
        told = frame(con, statuses).rows()
        faults = [audit.name for audit in audits() if con.execute(audit.sql).fetchall()]
    assert dict(told)["plans_b.csv"] == "withdrawn"
    assert faults == []


@pytest.mark.parametrize("player_id", ["heron", "wren"])
def test_after_an_erasure_the_archive_is_whole_and_gives_the_same_rows(finished: Workspace, player_id: str) -> None:
    erase_player(finished, player_id, NIGHT)
    rows = core(finished)
    assert damaged_originals(finished, listed_originals(finished)) == ()
    rebuild(finished, NIGHT)
    assert core(finished) == rows
    assert player_id not in (finished.archive / "originals.jsonl").read_text()


def test_a_disk_that_is_full_when_the_rows_are_put_in_their_place_is_told_and_leaves_what_stood(finished: Workspace) -> None:
    """The rows fit beside into the log of the new warehouse, and not into its file: closing it says nothing of that."""
    before = finished.warehouse.read_bytes()
    with no_file_beyond(1_000_000), pytest.raises(WarehouseError):
        rebuild(finished, NIGHT)
    assert finished.warehouse.read_bytes() == before
    assert not (finished.root / ".rebuild").exists()
