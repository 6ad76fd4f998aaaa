"""CSV as it comes from devices and spreadsheets. Every physical line is accounted for: header, row, part of a row, or blank.

Clean files (no NUL, valid UTF-8, quotation marks in place, the right number of separators) stay bytes and are parsed together
by the hundred. All others are split line by line here, so that one bad line costs that line and nothing else.
"""

from __future__ import annotations

import codecs
import csv
import re
from collections import Counter
from dataclasses import dataclass

import numpy as np

from pipelines.stages.intake.apart import apart
from pipelines.stages.intake.table import Cells, Plain, RowFault, Unread, text_frame

MOST_LINES_IN_A_ROW = 60
MOST_COLUMNS = 2000
MOST_ABOVE = 20
"""Lines above a header that are looked at."""
MOST_CELLS = 12_000_000
_SHOWN = 200
_MARKED = re.compile(rb"""(?:^|[,\n"])[ \t]*'+(?:[=+\-@\t]|\xef\xbc)""")
"""Where a cell may begin with the mark of text that is no formula: see :mod:`schemas.spreadsheet`."""


@dataclass(frozen=True)
class Dialect:
    """How a text file is laid out.

    Attributes
    ----------
    delimiter, encoding : str
    header_line : int
        Line that holds the header, from 1.
    units_row : bool
        The line below the header holds units.
    native : bool
        Header names are ours: upper and lower case are the same.
    names : tuple of str
        Names of the columns where the header is read elsewhere; empty: the header line holds them.
    """

    delimiter: str = ","
    encoding: str = ""
    header_line: int = 1
    units_row: bool = False
    native: bool = True
    names: tuple[str, ...] = ()


NATIVE = Dialect()


def plain(data: bytes) -> Plain | None:
    """The file as clean text, or None when it has to be read with care."""
    if b"\0" in data:
        return None
    data = data.removeprefix(codecs.BOM_UTF8)
    if b"\r" in data:
        data = data.replace(b"\r\n", b"\n")
        if b"\r" in data:
            return None
    if not data.isascii() and not _is_utf8(data):
        return None
    if b"'" in data and _MARKED.search(data):
        return None
    head, _, body = data.partition(b"\n")
    body = body.rstrip(b"\n")
    header = tuple(name.strip().lower() for name in head.decode().split(","))
    if not body or b'"' in head or "" in header or len(set(header)) < len(header) or not 2 <= len(header) <= MOST_COLUMNS:
        return None
    n_rows = body.count(b"\n") + 1
    quoted = b'"' in body
    n_separators = _separators_outside_quotes(body) if quoted else body.count(b",")
    return Plain(header, body, n_rows, quoted) if n_separators == n_rows * (len(header) - 1) else None


def _separators_outside_quotes(body: bytes) -> int:
    """Commas outside quotation marks; -1 when a mark does not stand at the edge of a cell, or a cell spans lines."""
    sign = np.frombuffer(body, dtype=np.uint8)
    mark = sign == ord('"')
    inside = np.bitwise_xor.accumulate(mark)
    at = np.flatnonzero(mark)
    opening = at[inside[at]]
    closing = at[~inside[at]]
    edges = np.array([ord(","), ord("\n"), ord('"')], dtype=np.uint8)
    before = sign[opening[opening > 0] - 1]
    after = sign[closing[closing < len(sign) - 1] + 1]
    whole = not inside[-1] and not (inside & (sign == ord("\n"))).any()
    if not whole or not np.isin(before, edges).all() or not np.isin(after, edges).all():
        return -1
    return int(((sign == ord(",")) & ~inside).sum())


def _is_utf8(data: bytes) -> bool:
    try:
        data.decode()
    except UnicodeDecodeError:
        return False
    return True


def _looks_binary(data: bytes) -> bool:
    head = data[:4096]
    control = sum(head.count(code) for code in (*range(9), *range(14, 27), *range(28, 32)))
    return control > 0.1 * len(head)


def text_lines(data: bytes, encoding: str) -> tuple[list[str], set[int]] | Unread:
    """The physical lines, and the indices of those that are not in the encoding.

    A byte-order mark decides before the encoding does.
    """
    for mark, name in ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be")):
        if data.startswith(mark):
            data, encoding = data[len(mark) :], name
    encoding = encoding or "utf-8"
    wide = encoding.replace("_", "-").lower().startswith(("utf-16", "utf-32"))
    if not wide and _looks_binary(data):
        return Unread("not_text", _shown(data[:40].decode("latin-1")))
    try:
        return _split(data.decode(encoding)), set()
    except UnicodeDecodeError as fault:
        if wide:
            return Unread("bad_encoding", f"{encoding}: {fault.reason}")
    parts = data.split(b"\n")
    lines = [part.decode(encoding, "replace").removesuffix("\r") for part in parts]
    return lines, {index for index, line in enumerate(lines) if "\ufffd" in line}


def _split(text: str) -> list[str]:
    if "\n" not in text and "\r" in text:
        return text.split("\r")
    return [line.removesuffix("\r") for line in text.split("\n")]


def _shown(text: str) -> str:
    clean = "".join(sign if sign.isprintable() else "�" for sign in text[:_SHOWN])
    return clean.strip()


def _is_blank(line: str, delimiter: str) -> bool:
    return not line.strip(delimiter + ' \t"')


def _cells(text: str, delimiter: str) -> list[str] | None:
    """The cells of one logical row; None when its quotation marks do not close."""
    try:
        rows = list(csv.reader(text.splitlines(keepends=True) if "\n" in text else [text], delimiter=delimiter, strict=True))
    except csv.Error:
        return None
    return [cell.strip() for cell in rows[0]] if len(rows) == 1 else None


def cells_of_line(line: str, delimiter: str) -> list[str]:
    """The cells of one line; split at every separator when its quotation marks do not close."""
    return _cells(line, delimiter) or [cell.strip() for cell in line.split(delimiter)]


def _row(lines: list[str], at: int, width: int, delimiter: str) -> tuple[list[str] | None, int]:
    """The row that begins at a line, and how many lines it takes; None when a quotation mark stays open."""
    line = lines[at]
    if '"' not in line:
        return [cell.strip() for cell in line.split(delimiter)], 1
    text = line
    for span in range(1, MOST_LINES_IN_A_ROW + 1):
        if text.count('"') % 2 == 0:
            cells = _cells(text, delimiter)
            if span == 1:
                return cells, 1
            return (cells, span) if cells is not None and _fitted(cells, width) is not None else (None, 1)
        if at + span >= len(lines):
            break
        text += "\n" + lines[at + span]
    return None, 1


def _fitted(cells: list[str], width: int) -> list[str] | None:
    """The cells when they fit the header; separators too many at the end, as spreadsheets write them, are let go."""
    if len(cells) > width and not any(cells[width:]):
        return cells[:width]
    return cells if len(cells) == width else None


def _fault(line: str, cells: list[str] | None, at: int, damaged: set[int]) -> RowFault:
    if at in damaged:
        return RowFault(at + 1, "bad_encoding", _shown(line))
    if "\0" in line:
        return RowFault(at + 1, "nul_byte", _shown(line))
    return RowFault(at + 1, "open_quote" if cells is None else "ragged_row", _shown(line))


def _header_line(lines: list[str], dialect: Dialect) -> int:
    """Index of the header; in a native file the first line that is not blank."""
    if not dialect.native:
        return dialect.header_line - 1
    return next((at for at, line in enumerate(lines) if not _is_blank(line, dialect.delimiter)), 0)


def _header(lines: list[str], at: int, dialect: Dialect) -> tuple[str, ...] | Unread:
    if at >= len(lines) or _is_blank(lines[at], dialect.delimiter):
        return Unread("column_missing", "", "", 0)
    cells = _cells(lines[at], dialect.delimiter)
    if cells is None:
        return Unread("open_quote", _shown(lines[at]))
    while cells and not cells[-1]:
        cells.pop()
    names = tuple((cell.lower() if dialect.native else cell) or f"column {place}" for place, cell in enumerate(cells, 1))
    if len(names) > MOST_COLUMNS:
        return Unread("too_large", f"{len(names)} columns", n_rows=sum(not _is_blank(line, ",") for line in lines[at + 1 :]))
    twice = sorted(name for name, n in Counter(names).items() if n > 1)
    if twice:
        return Unread("duplicate_header", twice[0], _shown(twice[0]), sum(not _is_blank(line, ",") for line in lines[at + 1 :]))
    return names


@apart(over=1_000_000)
def careful(data: bytes, dialect: Dialect = NATIVE) -> Cells | Unread:
    """Split a file into cells line by line; one bad line costs that line only."""
    if not data.strip(b"\0 \t\r\n"):
        return Unread("empty_file")
    read = text_lines(data, dialect.encoding)
    if isinstance(read, Unread):
        return read
    lines, damaged = read
    at = _header_line(lines, dialect)
    header = dialect.names or _header(lines, at, dialect)
    if isinstance(header, Unread):
        return header
    if len(lines) * len(header) > MOST_CELLS or len(header) > MOST_COLUMNS:
        return Unread("too_large", f"{len(lines)} lines of {len(header)} columns", n_rows=len(lines) - at - 1)
    rows, starts, faults = _rows(lines, at + 1 + dialect.units_row, damaged, header, dialect.delimiter)
    if not rows and not faults:
        return Unread("no_rows")
    below = lines[at + 1 : at + 1 + dialect.units_row]
    units = tuple(cell for line in below for cell in cells_of_line(line, dialect.delimiter))
    above = (
        ()
        if dialect.native
        else tuple(tuple(cells_of_line(line, dialect.delimiter)) for line in lines[max(at - MOST_ABOVE, 0) : at])
    )
    return Cells(header, text_frame(header, rows), np.array(starts, dtype=np.int64), tuple(faults), units=units, above=above)


def _rows(
    lines: list[str], at: int, damaged: set[int], header: tuple[str, ...], delimiter: str
) -> tuple[list[list[str]], list[int], list[RowFault]]:
    rows: list[list[str]] = []
    starts: list[int] = []
    faults: list[RowFault] = []
    while at < len(lines):
        if _is_blank(lines[at], delimiter):
            at += 1
            continue
        cells, span = _row(lines, at, len(header), delimiter)
        unsound = any(spot in damaged or "\0" in lines[spot] for spot in range(at, at + span))
        fitted = None if cells is None or unsound else _fitted(cells, len(header))
        if fitted is None:
            faults.append(_fault(lines[at], cells, at, damaged))
        else:
            rows.append(fitted)
            starts.append(at + 1)
        at += span
    return rows, starts, faults
