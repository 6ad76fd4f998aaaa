"""What somebody no longer agrees to goes out of warehouse, originals and lists: reports, and decisions about the body."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from pipelines.stages.intake.lists import list_places, without_players, without_rows_of, write_problems
from pipelines.stages.intake.redact import kept_rows, redact_kept, redact_lines
from pipelines.stages.intake.refused import Refused
from pipelines.workspace import Workspace
from schemas.files import KINDS
from warehouse.consent import (
    flags_of,
    moved,
    refused_players,
    retell_refused,
    withdraw_body_rows,
    withdraw_decisions,
    withdraw_derived,
)
from warehouse.persons import kept_files

if TYPE_CHECKING:
    import duckdb

    from pipelines.stages.intake.reading import Readings


def withdraw_consent(con: duckdb.DuckDBPyConnection, workspace: Path, readings: Readings) -> None:
    """Take it out, before the commit; what is derived from it goes too, and is made anew by the next night.

    A crash in between leaves the players file in the inbox, and the next run does it again.
    """
    taken = withdraw_body_rows(con)
    for part in taken.partition_by("file_id"):
        ledger = part.row(0, named=True)
        gone = set(part["player_id"])
        place = redact_kept(workspace, KINDS[ledger["kind"]], ledger, gone, readings)
        moved(con, ledger["file_id"], place)
        problems, rejected = _lists(workspace, ledger)
        write_problems(con, problems, ledger)
        without_players(rejected, gone)
    players = set(taken["player_id"]) | _withdraw_decisions(con, workspace, readings)
    if players:
        withdraw_derived(con, sorted(players))
        Workspace(workspace).rewrite_due.touch()


def tell_to_drop_again(con: duckdb.DuckDBPyConnection, workspace: Path) -> list[tuple[str, str]]:
    """Say at rows of which nothing was kept that their player has agreed since, or does no more; the names of files and players.

    Only of those who have agreed since it was last told.
    """
    told = retell_refused(con)
    for part in told.partition_by("file_id"):
        ledger = part.row(0, named=True)
        write_problems(con, _lists(workspace, ledger)[0], ledger)
    agreed = told.filter("agreed").sort("name", "player_id")
    return list(dict.fromkeys(agreed.select("name", "player_id").iter_rows()))


def _lists(workspace: Path, ledger: dict[str, str]) -> tuple[Path, Path]:
    problems, rejected = list_places(ledger["file_id"], ledger["name"], ledger["kind"])
    return workspace / problems, workspace / rejected


def _withdraw_decisions(con: duckdb.DuckDBPyConnection, workspace: Path, readings: Readings) -> set[str]:
    """Take decisions about the body of those who do not agree out of everything; returns whose were found."""
    players = refused_players(con)
    if not players:
        return set()
    refused = Refused(players, *flags_of(con, players))
    wanted = [name.encode() for name in (*refused.players, *refused.flags)]
    found: set[str] = set()
    for file in kept_files(con).filter(pl.col("kind") == "decisions").to_dicts():
        place = workspace / file["kept_as"]
        if not place.is_file() or not any(name in place.read_bytes() for name in wanted):
            continue
        rows, lines = kept_rows(workspace, KINDS["decisions"], file, readings)
        own = refused.about_body(rows)
        if own.any():
            own_lines = tuple(lines[own.to_numpy()].tolist())
            found |= withdraw_decisions(con, file["file_id"], own_lines)
            moved(con, file["file_id"], redact_lines(workspace, KINDS["decisions"], file, own_lines, readings))
            problems, rejected = _lists(workspace, file)
            write_problems(con, problems, file)
            without_rows_of(rejected, refused.about_body)
    return found
