"""The lists that a person works with: a file's problems, and its rejected rows to correct and drop again.

They are written before the batch commits and may be written again after a crash, so they need not appear all at once.
"""

from __future__ import annotations

import csv
import io
import os
from collections import defaultdict
from typing import TYPE_CHECKING, Any

from pipelines.stages.intake.batch import native_content
from pipelines.stages.intake.csv_text import careful
from pipelines.stages.intake.discover import kind_of
from pipelines.stages.intake.disk import flat_name
from pipelines.stages.intake.table import Cells, Plain
from schemas.spreadsheet import harmless_text, told_text
from warehouse.consent import told_problems

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path

    import duckdb
    import polars as pl

PROBLEM_HEADER = ("file", "line", "column", "value", "rule", "allowed", "hint", "severity")


def list_places(file_id: str, name: str, kind: str) -> tuple[str, str]:
    """Where a file's problems and its rejected rows lie, below the workspace."""
    stem = f"{flat_name(name)}.{file_id[:8]}"
    rows = stem if kind_of(stem) == kind else f"{kind}_{stem}"
    return f"quarantine/{stem}.problems.csv", f"quarantine/{rows}.rows.csv"


def told_in_words(problem: dict[str, Any]) -> str:
    """What was found and what to do, in one line; nothing of no problem."""
    if not problem:
        return ""
    found = f"{problem['column']}: {problem['value']}" if problem.get("column") else str(problem["value"])
    end = "" if not found else " " if found.endswith("?") else ". "
    return f"{found}{end}{problem['hint']}"


def by_file(frame: pl.DataFrame, columns: Iterable[str]) -> dict[int, list[tuple[Any, ...]]]:
    """The rows of each file of a batch (column ``file``: its position), as tuples of these columns."""
    rows: dict[int, list[tuple[Any, ...]]] = defaultdict(list)
    for file, *cells in frame.select("file", *columns).iter_rows():
        rows[file].append(tuple(cells))
    return rows


def csv_text(header: Iterable[str], rows: Iterable[Iterable[Any]]) -> bytes:
    """Rows as CSV that a spreadsheet may open."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(header)
    writer.writerows([harmless_text(cell) if isinstance(cell, str) else cell for cell in row] for row in rows)
    return out.getvalue().encode()


_PLAINLY = getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_BINARY", 0)


def _write_quickly(path: Path, data: bytes) -> None:
    """By the system's own calls: thousands of small files take a third of the time that way."""
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | _PLAINLY, 0o600)
    try:
        while data:
            data = data[os.write(handle, data) :]
    finally:
        os.close(handle)


def write_list(path: Path, header: tuple[str, ...], rows: list[tuple[Any, ...]]) -> None:
    """Write a list; without rows there is none, and one of an earlier look is removed."""
    if rows and header:
        _write_quickly(path, csv_text(header, rows))
    else:
        path.unlink(missing_ok=True)


def write_problems(con: duckdb.DuckDBPyConnection, path: Path, ledger: dict[str, Any]) -> None:
    """Write a file's list of problems as the warehouse has them now; ``ledger``: ``file_id``, ``name``."""
    write_list(path, PROBLEM_HEADER, [(ledger["name"], *cells) for cells in told_problems(con, ledger["file_id"]).rows()])


def without_rows_of(path: Path, which: Callable[[pl.DataFrame], pl.Series]) -> None:
    """Take rows out of a list of rejected rows: those of which ``which`` says True; a list that cannot be read stays."""
    if not path.is_file():
        return
    data = path.read_bytes()
    content = native_content(".csv", data)
    content = careful(data) if isinstance(content, Plain) else content
    if isinstance(content, Cells):
        write_list(path, content.header, content.rows.filter(~which(content.rows)).rows())


def without_players(path: Path, players: set[str]) -> None:
    """Take these players' rows out of a list of rejected rows."""
    if not path.is_file():
        return
    with path.open(encoding="utf-8", newline="") as file:
        header, *rows = [[told_text(cell) for cell in row] for row in csv.reader(file)]
    at = header.index("player_id") if "player_id" in header else -1
    kept = [tuple(row) for row in rows if at >= 0 and row[at].strip() not in players]
    write_list(path, tuple(header), kept)
