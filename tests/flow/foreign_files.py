"""A foreign file as a bay writes it, a desk of one's own at which the data person is, and what an intake makes of what waits."""

from __future__ import annotations

import shutil
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from pipelines.runs import Night, take_in_waiting
from pipelines.workspace import Workspace
from tests.flow.desk_visitor import opened_desk, visitor

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from httpx import Client

    from pipelines.desk.visit import Desk
    from schemas.results import FileOutcome

AT = datetime(2026, 2, 5, 9, tzinfo=UTC)
SCRIPT = "<script>alert(1)</script>"
HEAD = f"Spieler;Datum;Uhrzeit;Schläger;Schlägertempo;Carry (yd);Seite;Note {SCRIPT}"
PICTURE = "<img src=x onerror=alert(1)>"
ROWS = [f"{{who}};{n % 2 + 3:02}.02.2026;17:{n:02};Driver;{98 + n % 3},5;{230 + n};{n - 6},5;{PICTURE}" for n in range(12)]


def export(who: str) -> str:
    return "\n".join(["Shots of the bay", HEAD, *(row.format(who=who) for row in ROWS)]) + "\n"


@pytest.fixture
def stood(rendered: Path) -> Path:
    """The workspace from which each test has a copy; a module may have another."""
    return rendered


@pytest.fixture
def desk(stood: Path, tmp_path: Path) -> Desk:
    shutil.copytree(stood, tmp_path / "academy")
    return opened_desk(Workspace(tmp_path / "academy"), lambda: AT)


@pytest.fixture
def client(desk: Desk) -> Iterator[Client]:
    with visitor(desk, "data") as found:
        yield found


def take_in(desk: Desk, minutes: int = 5) -> dict[str, FileOutcome]:
    """What became of the files of an intake."""
    taken = take_in_waiting(Night(desk.workspace, AT + timedelta(minutes=minutes))).files
    return {file.name.split("_")[0] if "_desk-" in file.name else file.name: file for file in taken}
