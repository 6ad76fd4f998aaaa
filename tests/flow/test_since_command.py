"""A day is named on the command line: it waits in the inbox, is taken in, and a later word about the same day takes its place."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from pipelines.cli import options, player
from pipelines.cli.main import main
from pipelines.runs import Night, take_in_waiting
from pipelines.workspace import Workspace, create_workspace
from warehouse.connection import frame, open_warehouse

if TYPE_CHECKING:
    from pathlib import Path

NOW = datetime(2026, 3, 9, 12, tzinfo=UTC)


@pytest.fixture
def academy(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Workspace:
    made = create_workspace(tmp_path / "hill")
    (made.inbox / "players.csv").write_text("player_id,alias\nheron,Heron\n")
    take_in_waiting(Night(made, NOW))
    for module in (options, player):
        monkeypatch.setattr(module, "now", lambda: NOW)
    return made


def since(academy: Workspace, *words: str) -> int:
    return main(["since", *words, "-w", str(academy.root)])


def named(academy: Workspace) -> list[tuple[str, ...]]:
    take_in_waiting(Night(academy, NOW))
    with open_warehouse(academy.warehouse, read_only=True) as con:
        rows = frame(con, "select player_id, changed_on, kind from named_change order by all").rows()
    return [tuple(str(cell) for cell in row) for row in rows]


def test_a_day_that_is_named_is_kept_and_a_later_word_about_it_takes_its_place(academy: Workspace) -> None:
    assert since(academy, "heron", "2026-03-02", "--change", "technique") == 0
    (path,) = academy.inbox.glob("changes_*.csv")
    assert "heron" not in path.name
    assert named(academy) == [("heron", "2026-03-02", "technique")]
    assert since(academy, "heron", "2026-03-02", "--change", "equipment") == 0
    assert since(academy, "heron", "2026-03-09") == 0
    assert named(academy) == [("heron", "2026-03-02", "equipment"), ("heron", "2026-03-09", "other")]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("wren", "2026-03-02"), "There is no player 'wren'"),
        (("heron", "2026-03-10"), "2026-03-10 lies ahead"),
        (("heron", "2. March"), "2. March"),
        (("heron", "2026-03-02", "--change", "mood"), "mood"),
    ],
)
def test_what_cannot_be_named_is_refused_in_one_line(
    academy: Workspace, words: tuple[str, ...], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert since(academy, *words) != 0
    lines = [line for line in capsys.readouterr().err.splitlines() if line.startswith("Error: ")]
    assert len(lines) == 1
    assert said in lines[0]
    assert list(academy.inbox.glob("changes_*")) == []
