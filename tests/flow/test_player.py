"""Taking everything about one player along, and forgetting a player."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import TYPE_CHECKING

import polars as pl
import pytest

from pipelines.runs import Night, run_night, take_in_waiting
from pipelines.stages import player_erasure
from pipelines.stages.doctor import examine
from pipelines.stages.player_erasure import erase_player
from pipelines.stages.player_export import export_player
from reports.shelf import list_of
from schemas.core import core_tables
from schemas.errors import NotFoundError, WorkspaceError
from tests.broad import some_of
from tests.flow.conftest import BY_HAND, NIGHT
from warehouse.connection import open_warehouse, scalar
from warehouse.migrate import audits
from warehouse.persons import personal_tables, rows_of_player

if TYPE_CHECKING:
    from pathlib import Path

    from pipelines.workspace import Workspace

LATER = NIGHT + timedelta(days=1)


def test_an_export_holds_every_row_of_the_player_and_of_nobody_else(finished: Workspace, tmp_path: Path) -> None:
    exported = export_player(finished, "heron", tmp_path / "out", LATER)
    shots = pl.read_csv(tmp_path / "out" / "shot.csv")
    assert shots["player_id"].unique().to_list() == ["heron"]
    everything = json.loads((tmp_path / "out" / "player.json").read_text())
    assert len(everything["shot"]) == shots.height == 35
    assert len(everything["checkin"]) == 2
    assert exported.n_rows == sum(len(rows) for rows in everything.values())
    explained = pl.read_csv(tmp_path / "out" / "dictionary.csv")
    assert set(explained["table"]) == set(everything)
    assert "wren" not in (tmp_path / "out" / "player.json").read_text()


def test_the_page_of_an_export_shows_the_beginning_of_a_long_list_and_its_file_all_of_it(
    finished: Workspace, tmp_path: Path
) -> None:
    with open_warehouse(finished.warehouse) as con:
        con.execute(
            "insert into trend_state by name select 'heron' as player_id, * from (values "
            "('driver', 'driver', 'club_speed_mps', '', date '2026-01-01', 1, 0, 0, range(288)::double[], [9.5], 1)) as "
            "t(club_group, club, metric, series, month_on, n_sessions, leads_to, confirmed_at, state, levels, digest)"
        ).fetchall()
    export_player(finished, "heron", tmp_path / "out", LATER)
    page = (tmp_path / "out/index.html").read_text(encoding="utf-8")
    assert "| 10 | 11 … (288 values; all of them in trend_state.csv)" in page
    assert "| 12 |" not in page
    assert "| 286.0 | 287.0" in (tmp_path / "out/trend_state.csv").read_text(encoding="utf-8")


@pytest.mark.parametrize("player_id", ["nobody", "../../x", "<b>"])
def test_only_a_known_player_is_exported(finished: Workspace, tmp_path: Path, player_id: str) -> None:
    with pytest.raises(NotFoundError):
        export_player(finished, player_id, tmp_path / "out", LATER)
    assert not (tmp_path / "out").exists()


def test_an_export_overwrites_nothing(finished: Workspace, tmp_path: Path) -> None:
    (tmp_path / "file.txt").touch()
    with pytest.raises(WorkspaceError, match="not empty"):
        export_player(finished, "heron", tmp_path, LATER)


def test_a_table_with_players_in_it_is_personal() -> None:
    assert {name for name, table in core_tables().items() if "player_id" in table.names} <= set(personal_tables())
    assert {"flag_event", "decision", "shot"} <= set(personal_tables())


def test_a_forgotten_player_is_in_no_row_no_file_and_no_page(finished: Workspace) -> None:
    run_night(Night(finished, NIGHT))
    assert any("heron" in path.read_text(encoding="utf-8").lower() for path in finished.site.rglob("*.html"))
    erasure = erase_player(finished, "heron", LATER)
    assert erasure.n_rows > 40
    assert erasure.naming_still == ()
    assert b"heron" not in finished.warehouse.read_bytes()
    run_night(Night(finished, LATER))
    with open_warehouse(finished.warehouse, read_only=True) as con:
        assert rows_of_player(con, "heron") == {}
        assert scalar(con, "select count(*) from shot") == 31
    kept = [
        path for folder in ("archive", "quarantine", "site") for path in (finished.root / folder).rglob("*") if path.is_file()
    ]
    assert [path for path in kept if b"heron" in path.read_bytes().lower()] == []
    assert b"heron" not in finished.warehouse.read_bytes()
    assert "heron" not in finished.log.read_text()
    assert "player erase rows=" in finished.log.read_text()


def test_the_books_balance_after_an_erasure_and_the_others_rows_point_to_their_lines(finished: Workspace) -> None:
    erase_player(finished, "heron", LATER)
    assert [finding for finding in examine(finished) if finding.state == "broken"] == []
    with open_warehouse(finished.warehouse, read_only=True) as con:
        kept_as, line = con.execute(
            "select kept_as, line from shot join file using (file_id) where session_id = 'w-0106' and shot_no = 2"
        ).fetchall()[0]
    text = (finished.root / kept_as).read_text(encoding="utf-8").splitlines()[line - 1]
    assert text.startswith("w-0106,wren,2,")


def test_refused_rows_of_a_forgotten_player_go_too(finished: Workspace) -> None:
    erase_player(finished, "stork", LATER)
    assert [finding for finding in examine(finished) if finding.state == "broken"] == []
    kept = [path for path in finished.quarantine.rglob("*") if path.is_file()]
    assert [path for path in kept if b"stork" in path.read_bytes()] == []


def test_the_same_bytes_do_not_bring_a_forgotten_player_back(finished: Workspace) -> None:
    erase_player(finished, "heron", LATER)
    for name in ("players.csv", "sessions_january.csv", "shots_january.csv"):
        (finished.inbox / name).write_bytes((BY_HAND / name).read_bytes())
    outcome = run_night(Night(finished, LATER))
    assert {file.status for file in outcome.intake.files} == {"unchanged"}
    with open_warehouse(finished.warehouse, read_only=True) as con:
        assert rows_of_player(con, "heron") == {}


def test_only_a_known_player_is_forgotten_and_backups_are_told(finished: Workspace) -> None:
    with pytest.raises(NotFoundError):
        erase_player(finished, "nobody", LATER)
    (finished.backups / "speedworth-old.tar.gz").touch()
    assert len(erase_player(finished, "wren", LATER).backups) == 1


def test_what_still_waits_in_the_inbox_loses_the_player_too(finished: Workspace) -> None:
    waiting = finished.inbox / "shots_new.csv"
    waiting.write_text("session_id,player_id\nx,heron\nw,wren\n")
    erasure = erase_player(finished, "heron", LATER)
    assert (erasure.naming_still, waiting.read_text()) == ((), "session_id,player_id\n\nw,wren\n")


STOPS = [
    *((step, False) for step in ("_without_player", "erase_rows", "forget_night", "rewrite_warehouse", "_clean_lists", "note")),
    *((step, True) for step in ("_without_player", "forget", "clean_kept_files", "rewrite_warehouse", "remove_pages")),
]


class StoppedError(BaseException):
    """Stands for a kill: nothing catches it."""


def stop_at(monkeypatch: pytest.MonkeyPatch, step: str, *, after: bool) -> None:
    """Let an erasure end before, or right after, the first call of one of its steps."""
    really = getattr(player_erasure, step)

    def stopped(*arguments: object, **named: object) -> None:
        if after:
            really(*arguments, **named)
        raise StoppedError

    monkeypatch.setattr(player_erasure, step, stopped)


@pytest.mark.parametrize(("step", "after"), some_of(STOPS))
def test_an_interrupted_erasure_is_finished_by_the_next_start(
    finished: Workspace, monkeypatch: pytest.MonkeyPatch, step: str, *, after: bool
) -> None:
    with monkeypatch.context() as patch:
        stop_at(patch, step, after=after)
        with pytest.raises(StoppedError):
            erase_player(finished, "heron", LATER)
    if step in {"_without_player", "_clean_lists"}:
        assert erase_player(finished, "heron", LATER).n_rows > 0
    else:
        take_in_waiting(Night(finished, LATER))
    assert not finished.erasure_due.exists()
    pages = {finished.site, list_of(finished.site), finished.root / "player-links.csv"}  # made anew by the night that follows
    kept = [path for path in finished.root.rglob("*") if path.is_file() and not pages & {path, *path.parents}]
    left = [path for path in kept if b"heron" in path.read_bytes()]
    assert left == []
    with open_warehouse(finished.warehouse, read_only=True) as con:
        assert [audit.name for audit in audits() if con.execute(audit.sql).fetchall()] == []


def test_another_player_is_forgotten_only_after_the_first_is_gone(finished: Workspace, monkeypatch: pytest.MonkeyPatch) -> None:
    with monkeypatch.context() as patch:
        stop_at(patch, "rewrite_warehouse", after=False)
        with pytest.raises(StoppedError):
            erase_player(finished, "heron", LATER)
    erase_player(finished, "stork", LATER)
    left = [path for path in finished.archive.rglob("*") if path.is_file() and b"heron" in path.read_bytes()]
    assert (left, finished.erasure_due.exists()) == ([], False)
