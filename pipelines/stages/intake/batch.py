"""Many files of one kind as one frame of text cells: clean CSV is parsed together, the rest file by file."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from pipelines.stages.intake.csv_text import careful, plain
from pipelines.stages.intake.nested import nested_json
from pipelines.stages.intake.other_formats import json_cells, parquet_cells, sheet_cells
from pipelines.stages.intake.table import Cells, Plain, Unread, without_empty
from schemas.spreadsheet import told

if TYPE_CHECKING:
    from collections.abc import Callable

    from pipelines.stages.intake.discover import Arrival
    from schemas.files import FileKind


@dataclass(frozen=True)
class Incoming:
    """One file on its way in.

    Attributes
    ----------
    arrival : Arrival
    file_id : str
        SHA-256 of the content.
    data : bytes
    content : Plain, Cells or Unread
    """

    arrival: Arrival
    file_id: str
    data: bytes
    content: Plain | Cells | Unread


@dataclass(frozen=True)
class Rows:
    """The rows of a batch.

    Attributes
    ----------
    cells : polars.DataFrame
        Text under native names.
    file : polars.Series of int
        Position of the file in the batch.
    line : polars.Series of int
        Line at which the row begins.
    """

    cells: pl.DataFrame
    file: pl.Series
    line: pl.Series


_MOST_LINES_ABOVE = 20
_OTHER_FORMATS: dict[str, Callable[[bytes], Cells | Unread]] = {
    ".parquet": partial(parquet_cells, native=True),
    ".json": partial(nested_json, way="", whole=True, native=True),
    ".jsonl": partial(json_cells, native=True),
    ".xlsx": partial(sheet_cells, native=True),
}


def native_content(ending: str, data: bytes) -> Plain | Cells | Unread:
    """Split a file in our own form; nothing is checked yet."""
    if not ending:
        return Unread("unknown_format")
    if not data:
        return Unread("empty_file")
    other = _OTHER_FORMATS.get(ending)
    content = other(data) if other is not None else plain(data) or careful(data)
    if isinstance(content, Plain) and any(name.startswith("column ") for name in content.header):
        content = careful(data)
    if isinstance(content, Cells) and ending in {".csv", ".xlsx"}:
        return replace(without_empty(content), rows=told(without_empty(content).rows))
    return content


def _separator_hint(header: tuple[str, ...]) -> str:
    for sign, name in ((";", "semicolons"), ("\t", "tabs")):
        if any(sign in cell for cell in header):
            return f"The cells seem to be separated by {name}: use commas, or write a mapping with `speedworth map FILE`."
    return ""


def _spelling_hint(header: tuple[str, ...], missing: list[str]) -> str:
    """What to do where columns are there under our names but for blanks and hyphens."""
    spelt = {re.sub(r"[\s-]+", "_", name.strip().lower()): name for name in header}
    near = next(((name, spelt[name]) for name in missing if name in spelt), None)
    return f"Write {near[0]} in place of {near[1]}, and the other names so too, then drop the file again." if near else ""


def _lower_header_hint(kind: FileKind, content: Plain | Cells) -> str:
    """What to do where the header stands further down: a line that does not fit the first one, and names all that is required."""
    faults = content.faults[:_MOST_LINES_ABOVE] if isinstance(content, Cells) else ()
    line = next((one.line for one in faults if all(name in one.value.lower() for name in kind.required)), 0)
    return lower_header(line) if line else ""


def lower_header(line: int) -> str:
    """What to do where the header stands in this line."""
    return f"The header seems to be in line {line}: delete the lines above it, or write a mapping with skip_lines."


def with_required(kind: FileKind, content: Plain | Cells | Unread) -> Plain | Cells | Unread:
    """The content, or why not when a required column is missing."""
    if isinstance(content, Unread):
        return content
    missing = [name for name in kind.required if name not in content.header]
    if not missing:
        return content
    shown = ", ".join(content.header)[:200]
    hint = _separator_hint(content.header) or _lower_header_hint(kind, content) or _spelling_hint(content.header, missing)
    return Unread("column_missing", shown, ", ".join(missing), content.n_rows, hint)


def _parsed(plains: list[Plain]) -> pl.DataFrame | None:
    """Clean text of several files parsed at once; None when it was not so clean after all."""
    try:
        frame = pl.read_csv(
            # Without the line break at its end, polars lets an empty cell too many of the last line go, and says nothing.
            b"".join(part.body + b"\n" for part in plains),
            has_header=False,
            schema=dict.fromkeys(plains[0].header, pl.String),
            quote_char='"' if plains[0].quoted else None,
            low_memory=False,
        )
    except pl.exceptions.PolarsError:
        return None
    if frame.height != sum(part.n_rows for part in plains):
        return None
    return frame.select(pl.when(pl.all() != "").then(pl.all())) if plains[0].quoted else frame


def _together(batch: list[Incoming], places: list[int]) -> list[Rows] | None:
    contents = [batch[place].content for place in places]
    plains = [content for content in contents if isinstance(content, Plain)]
    counts = [content.n_rows for content in plains]
    frame = _parsed(plains)
    if frame is None:
        return None
    file = np.repeat(np.array(places, dtype=np.int32), counts)
    line = np.concatenate([np.arange(2, count + 2, dtype=np.int64) for count in counts])
    return [Rows(frame, pl.Series(file), pl.Series(line))]


def _alone(cells: Cells, place: int) -> Rows:
    file = pl.Series(np.full(cells.rows.height, place, dtype=np.int32))
    return Rows(cells.rows, file, pl.Series(cells.lines, dtype=pl.Int64))


def _without_blank(rows: Rows) -> Rows:
    """Rows in which every cell is empty are no rows."""
    first = rows.cells.columns[0]
    if not rows.cells[first].null_count():
        return rows
    blank = rows.cells.select(pl.all_horizontal(pl.all().is_null())).to_series()
    return Rows(rows.cells.filter(~blank), rows.file.filter(~blank), rows.line.filter(~blank))


def _own_columns(kind: FileKind, rows: Rows) -> Rows:
    return replace(rows, cells=rows.cells.select(name for name in kind.names if name in rows.cells.columns))


def assembled(kind: FileKind, batch: list[Incoming]) -> tuple[list[Incoming], Rows]:
    """The rows of all files of a batch that can be read, and the batch with what was learned on the way.

    Clean text that turns out not to be clean is read again with care.
    """
    alike: dict[tuple[tuple[str, ...], bool], list[int]] = {}
    for place, incoming in enumerate(batch):
        if isinstance(incoming.content, Plain):
            alike.setdefault((incoming.content.header, incoming.content.quoted), []).append(place)
    parts: list[Rows] = []
    batch = list(batch)
    for places in alike.values():
        together = _together(batch, places)
        parts += together or []
        for place in () if together else places:
            batch[place] = replace(batch[place], content=with_required(kind, careful(batch[place].data)))
    for place, incoming in enumerate(batch):
        if isinstance(incoming.content, Cells):
            parts.append(_alone(incoming.content, place))
    return batch, _stacked(kind, [_own_columns(kind, _without_blank(part)) for part in parts])


def _stacked(kind: FileKind, parts: list[Rows]) -> Rows:
    if not parts:
        empty = pl.DataFrame(schema=dict.fromkeys(kind.names, pl.String))
        return Rows(empty, pl.Series([], dtype=pl.Int32), pl.Series([], dtype=pl.Int64))
    if len(parts) == 1:
        return parts[0]
    return Rows(
        pl.concat([part.cells for part in parts], how="diagonal"),
        pl.concat([part.file for part in parts]),
        pl.concat([part.line for part in parts]),
    )
