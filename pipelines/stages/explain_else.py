"""What else than a flag may be asked about: a file that came, a player, or the name of a problem."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pipelines.stages.intake.again import delivery_named
from pipelines.stages.intake.lists import list_places
from pipelines.stages.intake.rules import INTAKE_RULES
from schemas.errors import NotFoundError
from schemas.files import KINDS
from schemas.files.rules import rules
from warehouse.persons import require_player
from warehouse.problems import told_together

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb
    import polars as pl

_FEW = 3
"""Beyond this what is allowed differs from column to column, and stands beside each problem."""
_EVERY = ("held", "loaded", "superseded", "withdrawn")


@dataclass(frozen=True)
class FileExplanation:
    """What became of a file.

    Attributes
    ----------
    file : dict
        Name, status, day received and where it is kept.
    problems : polars.DataFrame
        From :func:`warehouse.problems.told_together`.
    listed : str
        Where the whole list lies, below the workspace; empty when there is none.
    """

    file: dict[str, Any]
    problems: pl.DataFrame
    listed: str


def explained_file(con: duckdb.DuckDBPyConnection, workspace: Path, named: str) -> FileExplanation | None:
    """The newest file that is meant, as :func:`pipelines.stages.intake.again.delivery_named` finds it; None: there is none."""
    file = delivery_named(con, named, _EVERY, newest=True)
    if file is None:
        return None
    listed, _ = list_places(file["file_id"], file["name"], file["kind"])
    return FileExplanation(file, told_together(con, file["file_id"]), listed if (workspace / listed).is_file() else "")


def is_player(con: duckdb.DuckDBPyConnection, named: str) -> bool:
    """Whether a player has this id."""
    try:
        require_player(con, named)
    except NotFoundError:
        return False
    return True


def explained_problem(named: str) -> list[tuple[str, str, str]]:
    """The code, what is allowed, and what to do, for a problem of that name; several kinds of files may call theirs so."""
    code = "_".join(named.lower().replace("-", " ").replace("_", " ").split())
    if code in INTAKE_RULES:
        return [(code, INTAKE_RULES[code].allowed, INTAKE_RULES[code].hint)]
    found = sorted({(code, rule.allowed, rule.hint) for kind in KINDS for rule in rules(kind) if rule.code == code})
    return found if len(found) <= _FEW else sorted({(code, "", hint) for _, _, hint in found})
