"""Copies of originals without the rows of which nothing may be kept. Text keeps its line numbers: such lines are emptied."""

from __future__ import annotations

import bisect
import codecs
import json
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from pipelines.stages.intake import disk
from pipelines.stages.intake.batch import native_content
from pipelines.stages.intake.csv_text import careful
from pipelines.stages.intake.discover import Arrival
from pipelines.stages.intake.reading import Readings, read_content
from pipelines.stages.intake.table import Cells, Lines, Plain, Unread
from schemas.spreadsheet import csv_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from schemas.files import FileKind

_NO_TIME = datetime(1970, 1, 1)  # noqa: DTZ001 - never read
_WIDE = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)


def private_lines(content: Plain | Cells | Unread, rows: tuple[int, ...]) -> tuple[int, ...]:
    """Lines at which private rows begin: those of players who have not agreed, and rows that cannot be told to be anybody's."""
    unclear = tuple(fault.line for fault in content.faults) if isinstance(content, Cells) else ()
    return tuple(sorted({*rows, *unclear}))


def _spans(content: Plain | Cells | Unread, private: tuple[int, ...], n_lines: int) -> set[int]:
    """All physical lines of private rows; a row reaches to where the next one begins."""
    if not isinstance(content, Cells):
        return set(private)
    starts = sorted({*content.lines.tolist(), *(fault.line for fault in content.faults)})
    found: set[int] = set()
    for line in private:
        after = bisect.bisect_right(starts, line)
        found.update(range(line, starts[after] if after < len(starts) else n_lines + 1))
    return found


def without_rows(data: bytes, ending: str, content: Plain | Cells | Unread, private: tuple[int, ...]) -> tuple[bytes, str]:
    """The file without private rows, and its ending: in text those lines are emptied, other formats are written as CSV.

    What stands above the first row stays.
    """
    if ending in {".csv", ".jsonl"} and not data.startswith(_WIDE):
        lines = data.split(b"\n")
        drop = _spans(content, private, len(lines))
        return b"\n".join(b"" if at in drop else line for at, line in enumerate(lines, 1)), ending
    if not isinstance(content, Cells):
        return b"", ".csv"
    kept = content.rows.filter(~pl.Series(content.lines).is_in(list(private)))
    return csv_of(kept).encode(), ".csv"


@dataclass(frozen=True)
class _Original:
    """A kept original, split into cells when that is asked.

    Attributes
    ----------
    place : Path
    data : bytes
    kind : FileKind
    ledger : dict
        ``name``, ``mapping``.
    readings : Readings
    """

    place: Path
    data: bytes
    kind: FileKind
    ledger: dict[str, str]
    readings: Readings

    @cached_property
    def content(self) -> Plain | Cells | Unread:
        """Its cells; a copy that was written as CSV is in our own form."""
        name = self.ledger["name"]
        if self.place.suffix != f".{disk.ending(name)}":
            return native_content(".csv", self.data)
        arrival = Arrival(self.place, name, self.ledger["mapping"], _NO_TIME, (0, 0, 0, 0))
        return read_content(self.kind, arrival, self.data, self.readings)

    @cached_property
    def cells(self) -> Cells | Unread:
        """The same, plain text read line by line."""
        return careful(self.data) if isinstance(self.content, Plain) else self.content

    def lines_of(self, players: set[str]) -> tuple[int, ...]:
        """Lines at which rows of these players begin."""
        if isinstance(self.cells, Unread) or "player_id" not in self.cells.rows.columns:
            return ()
        theirs = self.cells.rows["player_id"].str.strip_chars().is_in(sorted(players)).fill_null(value=False)
        return tuple(self.cells.lines[theirs.to_numpy()].tolist())


def _original(workspace: Path, kind: FileKind, ledger: dict[str, str], readings: Readings) -> _Original | None:
    """The kept original that the ledger names; None when none is kept, or somebody took it away."""
    place = workspace / ledger["kept_as"]
    is_there = bool(ledger["kept_as"]) and place.is_file()
    return _Original(place, place.read_bytes(), kind, ledger, readings) if is_there else None


def redact_kept(workspace: Path, kind: FileKind, ledger: dict[str, str], players: set[str], readings: Readings) -> str:
    """Take these players' rows out of a kept original; returns where the copy without them lies now.

    Parameters
    ----------
    workspace : Path
    kind : FileKind
    ledger : dict
        ``file_id``, ``name``, ``mapping``, ``kept_as``.
    players : set of str
    readings : Readings
    """
    return _redact(workspace, _original(workspace, kind, ledger, readings), ledger, lambda original: original.lines_of(players))


def redact_lines(workspace: Path, kind: FileKind, ledger: dict[str, str], lines: tuple[int, ...], readings: Readings) -> str:
    """The same with the rows that begin at these lines."""
    return _redact(workspace, _original(workspace, kind, ledger, readings), ledger, lambda _original: lines)


def kept_rows(workspace: Path, kind: FileKind, ledger: dict[str, str], readings: Readings) -> tuple[pl.DataFrame, Lines]:
    """Rows of a kept original as text under native names, and the lines at which they begin; none when it cannot be read."""
    original = _original(workspace, kind, ledger, readings)
    if original is None or isinstance(original.cells, Unread):
        return pl.DataFrame(), np.array([], dtype=np.int64)
    return original.cells.rows, original.cells.lines


def _redact(
    workspace: Path, original: _Original | None, ledger: dict[str, str], drop: Callable[[_Original], tuple[int, ...]]
) -> str:
    copy_place = disk.archive_place(ledger["file_id"], ledger["name"], redacted=True)
    if ledger["kept_as"].startswith("quarantine/"):
        copy_place = disk.quarantine_place(ledger["file_id"], ledger["name"], redacted=True)
    if original is None:
        return copy_place if (workspace / copy_place).is_file() else ""
    copy, ending = without_rows(original.data, original.place.suffix, original.content, drop(original))
    if ending != Path(copy_place).suffix:
        copy_place += ending
    disk.write_whole(workspace / copy_place, copy)
    if copy_place != ledger["kept_as"]:
        original.place.unlink(missing_ok=True)
    return copy_place


def lines_of_players(
    workspace: Path, kind: FileKind, ledger: dict[str, str], players: set[str], readings: Readings
) -> tuple[int, ...]:
    """Lines of a kept original at which rows of these players begin, refused ones too; parameters as in :func:`redact_kept`."""
    original = _original(workspace, kind, ledger, readings)
    if original is None:
        return ()
    is_text = original.place.suffix in {".csv", ".jsonl"} and not ledger["mapping"]
    if is_text and not any(player.encode() in original.data for player in players):
        return ()
    return original.lines_of(players)


def rows_of_players(
    workspace: Path, kind: FileKind, ledger: dict[str, str], players: set[str], readings: Readings
) -> list[tuple[int, str, str]]:
    """Line, text and heading of every row of these players in a kept original; parameters as in :func:`redact_kept`."""
    original = _original(workspace, kind, ledger, readings)
    if original is None or isinstance(original.cells, Unread):
        return []
    content, own, data = original.cells, original.lines_of(players), original.data
    if original.place.suffix in {".csv", ".jsonl"} and not data.startswith(_WIDE):
        return _as_dropped(content, data, own, is_table=original.place.suffix == ".csv")
    rows = content.rows.filter(pl.Series(content.lines).is_in(list(own))).to_dicts()
    cells = ({name: cell for name, cell in row.items() if cell is not None} for row in rows)
    return [(line, json.dumps(told, ensure_ascii=False), "") for line, told in zip(own, cells, strict=True)]


def _as_dropped(content: Cells, data: bytes, own: tuple[int, ...], *, is_table: bool) -> list[tuple[int, str, str]]:
    lines = data.split(b"\n")
    above = lines[: min(content.lines.tolist(), default=1) - 1] if is_table else []
    heading = next((_decoded(line) for line in reversed(above) if line.strip()), "")
    spans = {line: sorted(_spans(content, (line,), len(lines))) for line in own}
    return [(line, _decoded(b"\n".join(lines[at - 1] for at in span)).rstrip(), heading) for line, span in spans.items()]


def _decoded(data: bytes) -> str:
    try:
        return data.decode("utf-8-sig").rstrip("\r")
    except UnicodeDecodeError:
        return data.decode("latin-1").rstrip("\r")
