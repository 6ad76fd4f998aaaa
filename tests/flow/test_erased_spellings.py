"""A name is taken out however people and machines write it: with umlauts written out, without marks, with marks set apart."""

from __future__ import annotations

import unicodedata
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from pipelines.runs import Night, take_in_waiting
from pipelines.settings import default_settings
from pipelines.stages.forgotten import read_forgotten, spellings
from pipelines.stages.player_erasure import erase_player
from pipelines.workspace import create_workspace
from warehouse.connection import frame, open_warehouse

if TYPE_CHECKING:
    from pathlib import Path

NOW = datetime(2026, 3, 15, 20, tzinfo=UTC)
ALIAS = "Jörg Żołądź"


@pytest.mark.parametrize(
    ("name", "also"),
    [
        ("Jörg Größl", {"jörg grössl", "joerg groessl", "jorg grossl"}),
        ("Łukasz Nowak", {"łukasz nowak", "lukasz nowak"}),
        ("Søren Ærø", {"søren ærø", "soeren aeroe", "soren aero"}),
        ("Anna Berg", {"anna berg"}),
        ("Bö", set()),  # "boe" or "bo" might be any word
    ],
)
def test_how_else_a_name_is_written(name: str, also: set[str]) -> None:
    found = spellings(name)
    assert also <= found
    assert spellings(unicodedata.normalize("NFD", name)) >= also


@pytest.mark.parametrize(
    "written", [ALIAS, ALIAS.upper(), "Joerg Zoladz", "jorg zoladz", "Jörg-Żołądź", unicodedata.normalize("NFD", ALIAS)]
)
def test_every_spelling_is_taken_out_of_other_peoples_notes(written: str, tmp_path: Path) -> None:
    made = create_workspace(tmp_path / "hill", default_settings("Hill", "Europe/Berlin"))
    (made.inbox / "players.csv").write_text(f"player_id,alias\np1,{ALIAS}\np2,Wren\np3,Jorg\n", encoding="utf-8")
    (made.inbox / "sessions.csv").write_text(
        f"session_id,player_id,started_at,kind,note\nS2,p2,2026-03-14T10:00:00,range,hit beside {written} and Jorg today\n",
        encoding="utf-8",
    )
    take_in_waiting(Night(made, NOW))
    erase_player(made, "p1", NOW)
    with open_warehouse(made.warehouse, read_only=True) as con:
        assert frame(con, "select note from session")["note"].to_list() == ["hit beside [erased] and Jorg today"]
    (kept,) = [path for path in made.archive.rglob("*.csv") if b"S2" in path.read_bytes()]
    assert written not in kept.read_text(encoding="utf-8")


def test_what_somebody_else_is_called_is_nobodys_other_spelling(tmp_path: Path) -> None:
    made = create_workspace(tmp_path / "hill", default_settings("Hill", "Europe/Berlin"))
    (made.inbox / "players.csv").write_text("player_id,alias\np1,Jörg\np2,Jorg\n", encoding="utf-8")
    take_in_waiting(Night(made, NOW))
    erase_player(made, "p1", NOW)
    marks = read_forgotten(made.root)
    assert marks is not None
    assert marks.masked("Jörg, Joerg and Jorg") == "[erased], [erased] and Jorg"
