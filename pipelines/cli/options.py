"""Options that every command has, declared once, and the clock that commands pass down."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

WorkspaceOption = Annotated[
    Path, typer.Option("--workspace", "-w", metavar="DIR", help="Folder of the academy.", show_default="the current folder")
]
HERE = Path()

Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="Print results and errors only.")]


def now() -> datetime:
    """The clock; everything below gets it passed in."""
    return datetime.now(UTC)
