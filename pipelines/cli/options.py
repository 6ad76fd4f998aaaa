"""Options that every command has, declared once, and the clock that commands pass down."""

from __future__ import annotations

import shlex
from datetime import UTC, date, datetime
from enum import StrEnum
from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo

import typer


def named_place(text: str | Path) -> Path:
    """A folder or file as it was named; an empty name, as an unset variable of a shell gives it, is not the current folder."""
    if not str(text).strip():
        raise typer.BadParameter("the name is empty. Write . for the current folder")
    return Path(text)


WorkspaceOption = Annotated[
    Path,
    typer.Option(
        "--workspace", "-w", parser=named_place, metavar="DIR", help="Folder of the academy.", show_default="the current folder"
    ),
]
HERE = Path()


def pasted(path: Path) -> str:
    """A folder or file in a command that is printed to be pasted."""
    return shlex.quote(str(path))


Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="Print results and errors only.")]


class Reader(StrEnum):
    """Whose pages a command is about."""

    COACH = "coach"
    PHYSIO = "physio"
    DATA = "data"
    PLAYER = "player"


def now() -> datetime:
    """The clock; everything below gets it passed in."""
    return datetime.now(UTC)


def today_at(time_zone: str) -> date:
    """The local day in that zone."""
    return now().astimezone(ZoneInfo(time_zone)).date()
