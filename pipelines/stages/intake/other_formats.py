"""Parquet, JSON Lines and spreadsheets as cells of text, so that one path checks all formats alike."""

from __future__ import annotations

import io
import json
import re
import zipfile
import zlib
from collections import Counter
from dataclasses import replace
from typing import IO, Any

import fastexcel
import numpy as np
import polars as pl

from pipelines.stages.intake.apart import apart
from pipelines.stages.intake.csv_text import MOST_ABOVE
from pipelines.stages.intake.header import header_names
from pipelines.stages.intake.json_values import json_cell, named_once, shown_line
from pipelines.stages.intake.nested import flat_frame
from pipelines.stages.intake.packed import MOST_BYTES, MOST_RATIO
from pipelines.stages.intake.sheet_values import column_number, sheet_text, uncomputed, with_errors
from pipelines.stages.intake.table import Cells, RowFault, Unread

MOST_ROWS = 20_000_000
MOST_CELLS = 12_000_000
"""Cells of a table, empty ones counted: about 700 MB while it is read."""
MOST_COLUMNS = 2000

_SHEET_PART = re.compile(r"xl/(worksheets|chartsheets)/[^/]+\.xml", re.IGNORECASE)
_CELL_PLACE = re.compile(rb"<(?:\w+:)?c [^>]*?\br=[\"']([A-Z]{1,3})(\d{1,7})[\"']")


def _text(series: pl.Series) -> pl.Series:
    """A column as native text: ISO days and instants, true/false, numbers that read back exactly."""
    kind = series.dtype
    if kind == pl.String:
        return series.str.strip_chars().replace({"": None})
    if isinstance(kind, pl.Datetime):
        written = series.cast(pl.Datetime("us", kind.time_zone))
        zoned = kind.time_zone is not None
        at_utc = written.dt.convert_time_zone("UTC") if zoned else written
        return at_utc.dt.to_string("%Y-%m-%dT%H:%M:%S%.f" + ("Z" if zoned else ""))
    if kind.is_nested() or kind in {pl.Binary, pl.Object}:
        raise _ColumnTypeError(f"{series.name} holds {kind}")
    return series.cast(pl.String)


@apart()
def parquet_cells(data: bytes, *, native: bool, way: str = "") -> Cells | Unread:
    """The rows of a Parquet file; row 1 counts as line 2, as if a header stood above it.

    A foreign file may be nested; ``way`` leads to the list that holds its rows.
    """
    source = io.BytesIO(data)
    try:
        scan = pl.scan_parquet(source)
        n_rows, n_columns = scan.select(pl.len()).collect().item(), len(scan.collect_schema())
        if n_rows * n_columns > MOST_CELLS or n_columns > MOST_COLUMNS:
            return Unread("too_large", f"{n_rows} rows of {n_columns} columns", n_rows=n_rows)
        source.seek(0)
        frame = pl.read_parquet(source)
        frame = frame if native else flat_frame(frame, way, MOST_ROWS)
        frame = frame.select([_text(column) for column in frame.get_columns()])
    except _ColumnTypeError as fault:
        return Unread("column_type", _first_line(fault), n_rows=n_rows)
    except (pl.exceptions.PolarsError, ValueError, OSError, pl.exceptions.PanicException) as fault:
        return Unread("not_readable", _first_line(fault))
    return _ready(frame, np.arange(2, frame.height + 2, dtype=np.int64), native=native)


def _ready(frame: pl.DataFrame, lines: Any, *, native: bool, faults: tuple[RowFault, ...] = ()) -> Cells | Unread:
    names = [name.strip().lower() if native else name.strip() for name in frame.columns]
    twice = sorted(name for name, n in Counter(names).items() if n > 1)
    if twice:
        return Unread("duplicate_header", twice[0], twice[0], frame.height + len(faults))
    frame.columns = names
    if not frame.height and not faults:
        return Unread("no_rows")
    return Cells(tuple(names), frame, lines, faults)


def _first_line(fault: BaseException) -> str:
    return (str(fault).splitlines() or [type(fault).__name__])[0][:200]


_SHEET_FAULTS = (
    fastexcel.FastExcelError,
    pl.exceptions.PolarsError,
    pl.exceptions.PanicException,
    zipfile.BadZipFile,
    zlib.error,
    ValueError,
    OSError,
    EOFError,
    LookupError,
)


class _ColumnTypeError(ValueError):
    """A column of a type that is no cell."""


def _json_row(line: bytes, at: int, *, native: bool) -> dict[str, str | None] | RowFault:
    shown = shown_line(line)
    if b"\0" in line:
        return RowFault(at, "nul_byte", shown)
    try:
        row = json.loads(line.decode(), object_pairs_hook=named_once)
        if not isinstance(row, dict):
            return RowFault(at, "not_json", shown)
        "".join(row).encode()
        return {(name.strip().lower() if native else name.strip()): json_cell(value) for name, value in row.items()}
    except UnicodeError:
        return RowFault(at, "bad_encoding", shown)
    except TypeError:
        return RowFault(at, "not_a_value", shown)
    except (ValueError, RecursionError):
        return RowFault(at, "not_json", shown)


@apart(over=1_000_000)
def json_cells(data: bytes, *, native: bool) -> Cells | Unread:
    """The rows of a JSON Lines file: one object in a line; names may differ from line to line."""
    data = data.removeprefix(b"\xef\xbb\xbf")
    if not data.strip():
        return Unread("empty_file")
    rows: list[dict[str, str | None]] = []
    lines: list[int] = []
    faults: list[RowFault] = []
    for at, line in enumerate(data.split(b"\n"), 1):
        if not line.strip():
            continue
        row = _json_row(line, at, native=native)
        if isinstance(row, RowFault):
            faults.append(row)
        else:
            rows.append(row)
            lines.append(at)
    header = tuple(dict.fromkeys(name for row in rows for name in row))
    if not header:
        return Unread("not_readable", faults[0].value if faults else "", n_rows=len(faults) or len(rows))
    if len(header) > MOST_COLUMNS or len(header) * len(rows) > MOST_CELLS:
        return Unread("too_large", f"{len(rows)} rows of {len(header)} columns", n_rows=len(rows) + len(faults))
    frame = pl.DataFrame({name: pl.Series([row.get(name) for row in rows], dtype=pl.String) for name in header})
    return _ready(frame, np.array(lines, dtype=np.int64), native=native, faults=tuple(faults))


def _workbook_is_fit(data: bytes) -> Unread | None:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as book:
            size = sum(entry.file_size for entry in book.infolist())
    except (zipfile.BadZipFile, ValueError, OSError, NotImplementedError):
        return Unread("not_readable", "no spreadsheet in this file")
    if size > MOST_BYTES or size > MOST_RATIO * max(len(data), 1):
        return Unread("packed_too_tightly", f"{size} bytes")
    return _sheets_are_small(data)


def _sheets_are_small(data: bytes) -> Unread | None:
    """A sheet is laid out whole in memory, from its first cell to its last: one stray cell at the far end is billions."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as book:
            for entry in book.infolist():
                if _SHEET_PART.fullmatch(entry.filename):
                    with book.open(entry) as part:
                        rows, columns = _extent(part)
                    if rows * columns > MOST_CELLS:
                        return Unread("sheet_too_wide", f"{entry.filename}: the last cell is in row {rows}, column {columns}")
    except (zipfile.BadZipFile, zlib.error, OSError, EOFError, ValueError, NotImplementedError, RuntimeError) as fault:
        return Unread("not_readable", _first_line(fault))
    return None


def _extent(part: IO[bytes]) -> tuple[int, int]:
    """Last row and last column that a sheet names."""
    rows, columns, rest = 0, 0, b""
    while block := part.read(1 << 20):
        block = rest + block
        for letters, digits in _CELL_PLACE.findall(block):
            rows = max(rows, int(digits))
            columns = max(columns, column_number(letters))
        rest = block[-64:]
    return rows, columns


def _sheet(data: bytes, sheet: str | int) -> tuple[pl.DataFrame, bytes]:
    """The cells of a sheet as text, numbers with all of their digits; and its XML."""
    book = fastexcel.read_excel(data)
    if isinstance(sheet, str) and sheet not in book.sheet_names:
        raise ValueError(f"no sheet {sheet}; there are {', '.join(book.sheet_names)}")
    shown = book.load_sheet(sheet, header_row=None, dtypes="string", skip_whitespace_tail_rows=False).to_polars()
    exact = book.load_sheet(sheet, header_row=None, dtypes="float", dtype_coercion="coerce").to_polars()
    # Read as a truth value, a number is one and text that looks like a number is none.
    numeric = book.load_sheet(sheet, header_row=None, dtypes="boolean", dtype_coercion="coerce").to_polars()
    height = min(shown.height, exact.height)
    columns = []
    for place, name in enumerate(shown.columns):
        text = shown[name].str.strip_chars().replace({"": None})
        number = exact[exact.columns[place]].head(height).extend_constant(None, shown.height - height)
        is_number = text.cast(pl.Float64, strict=False).is_not_null() & number.is_not_null() & number.is_finite()
        is_number &= numeric[numeric.columns[place]].head(height).extend_constant(None, shown.height - height).is_not_null()
        columns.append(_exact_text(text, number, is_number).alias(f"column_{place}"))
    xml = sheet_text(data, sheet if isinstance(sheet, str) else book.sheet_names[sheet])
    return with_errors(pl.DataFrame(columns), xml), xml


def _exact_text(text: pl.Series, number: pl.Series, is_number: pl.Series) -> pl.Series:
    same = number.cast(pl.String).str.strip_suffix(".0")
    frame = pl.DataFrame({"text": text, "same": same, "take": is_number})
    return frame.select(pl.when(pl.col("take").fill_null(value=False)).then("same").otherwise("text")).to_series()


def _computed_sheet(data: bytes, sheet: str | int, n_above: int) -> pl.DataFrame | Unread:
    """The cells of a sheet in which every formula has its value; ``n_above`` of its rows are none of the table."""
    unfit = _workbook_is_fit(data)
    if unfit:
        return unfit
    try:
        frame, xml = _sheet(data, sheet)
        without_value = uncomputed(xml)
    except _SHEET_FAULTS as fault:
        return Unread("not_readable", _first_line(fault))
    if not without_value:
        return frame
    more = f" and {len(without_value) - 1} more" if without_value[1:] else ""
    return Unread("formula_without_value", without_value[0] + more, n_rows=max(frame.height - n_above, 0))


@apart()
def sheet_cells(
    data: bytes, *, sheet: str | int = 0, header_line: int = 1, header_lines: int = 1, skip: int = 0, native: bool
) -> Cells | Unread:
    """The rows of one sheet; the line is the row's number in the sheet.

    The header ends at ``header_line`` and has ``header_lines``; ``skip`` rows below it are left out.
    """
    frame = _computed_sheet(data, sheet, header_line + skip)
    if isinstance(frame, Unread):
        return frame
    if frame.height < header_line:
        return Unread("empty_file")
    header = _sheet_header(frame, header_line, header_lines, native=native)
    if not header:
        return Unread("column_missing")
    twice = sorted(name for name, n in Counter(header).items() if n > 1)
    body = frame.slice(header_line + skip)
    if twice:
        return Unread("duplicate_header", twice[0], twice[0], body.height)
    body = body.select(pl.col(f"column_{place}").alias(name) for place, name in enumerate(header))
    line = pl.Series("line", np.arange(header_line + skip + 1, frame.height + 1, dtype=np.int64))
    filled = ~body.select(pl.all_horizontal(pl.all().is_null())).to_series()
    ready = _ready(body.filter(filled), line.filter(filled).to_numpy(), native=native)
    units = tuple(cell or "" for row in frame.slice(header_line, min(skip, 1)).iter_rows() for cell in row)
    above = tuple(tuple(cell or "" for cell in row) for row in frame.slice(0, header_line - 1).tail(MOST_ABOVE).iter_rows())
    return replace(ready, units=units, above=above) if isinstance(ready, Cells) else ready


def _sheet_header(frame: pl.DataFrame, header_line: int, header_lines: int, *, native: bool) -> list[str]:
    if not native:
        return list(header_names(frame.slice(header_line - header_lines, header_lines).rows(), frame.width))
    names = list(frame.row(header_line - 1))
    while names and names[-1] is None:
        names.pop()
    return [str(name) if name is not None else f"column {place}" for place, name in enumerate(names, 1)]


def heading_lines(data: bytes, *, sheet: str | int = 0, n_lines: int) -> list[str]:
    """The first rows of a sheet as text, their cells joined by blanks; empty when the file cannot be read."""
    if _workbook_is_fit(data):
        return []
    try:
        frame = _sheet(data, sheet)[0].head(n_lines)
    except _SHEET_FAULTS:
        return []
    return [" ".join(cell for cell in row if cell) for row in frame.iter_rows()]


def sheet_rows(data: bytes, *, sheet: str | int = 0) -> list[list[str]] | Unread:
    """All rows of a sheet as text, for looking at it."""
    unfit = _workbook_is_fit(data)
    if unfit:
        return unfit
    try:
        return [[cell or "" for cell in row] for row in _sheet(data, sheet)[0].iter_rows()]
    except _SHEET_FAULTS as fault:
        return Unread("not_readable", _first_line(fault))


def other_sheets(data: bytes) -> tuple[str, ...]:
    """Sheets behind the first one that hold something."""
    rows = {name: sheet_rows(data, sheet=name) for name in sheet_names(data)[1:]}
    return tuple(name for name, found in rows.items() if isinstance(found, list) and any(map(any, found)))


def sheet_names(data: bytes) -> list[str]:
    """The names of a workbook's sheets in their order, hidden ones too; none where it cannot be read."""
    if _workbook_is_fit(data):
        return []
    try:
        return list(fastexcel.read_excel(data).sheet_names)
    except _SHEET_FAULTS:
        return []
