"""How an unknown file is laid out: encoding, separator, header, units row, rows that are no rows."""

from __future__ import annotations

import codecs
import csv
from dataclasses import dataclass
from typing import TYPE_CHECKING

from pipelines.stages.intake.draft.values import SUMMARY_WORDS
from pipelines.stages.intake.draft.words import bare, unit_of
from pipelines.stages.intake.other_formats import sheet_rows
from pipelines.stages.intake.table import Unread

if TYPE_CHECKING:
    from collections.abc import Sequence

_SEPARATORS = (";", "\t", ",", "|")
_MOST_LINES = 400


@dataclass(frozen=True)
class Layout:
    """What was found.

    Attributes
    ----------
    delimiter, encoding : str
    above : tuple of str
        Lines above the header.
    header, units : tuple of str
        ``units`` is empty when there is no units row.
    rows : tuple of tuple of str
        The first rows, without those that are no rows.
    ignored : dict
        Column to the words that mark averages and totals.
    """

    delimiter: str
    encoding: str
    above: tuple[str, ...]
    header: tuple[str, ...]
    units: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    ignored: dict[str, tuple[str, ...]]

    def cells(self, header: str) -> list[str]:
        """The cells of a column that hold something."""
        at = self.header.index(header)
        return [row[at] for row in self.rows if row[at]]


def _decoded(data: bytes) -> tuple[str, str]:
    """Text, and the encoding to write down (empty: UTF-8, or a byte-order mark says it)."""
    for mark, name in ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be")):
        if data.startswith(mark):
            return data[len(mark) :].decode(name, "replace"), "utf-16" if "16" in name else ""
    if data[:400].count(b"\0") > 100:
        return data.decode("utf-16-le", "replace"), "utf-16-le"
    try:
        return data.decode(), ""
    except UnicodeDecodeError:
        return data.decode("cp1252", "replace"), "cp1252"


def _grid(lines: list[str], separator: str) -> list[list[str]]:
    return [[cell.strip() for cell in row] for row in csv.reader(lines, delimiter=separator)]


def _separator(lines: list[str]) -> str:
    """The sign that splits most lines into the same number of cells."""

    def score(sign: str) -> tuple[int, int]:
        widths = [len(row) for row in _grid(lines, sign) if len(row) > 1]
        usual = max(set(widths), key=widths.count, default=0)
        return (widths.count(usual) if usual > 1 else 0, usual)

    return max(_SEPARATORS, key=score)


def _is_number(cell: str) -> bool:
    return bool(cell) and (cell[0].isdigit() or cell[0] in "+-−.,") and any(sign.isdigit() for sign in cell)


def _share(cells: Sequence[str], test: object) -> float:
    filled = [cell for cell in cells if cell]
    return sum(1 for cell in filled if test(cell)) / len(filled) if filled and callable(test) else 0.0


def _header_at(grid: list[list[str]]) -> int | None:
    """The first row of names, nearly as wide as the widest, above a row with numbers."""
    width = max((sum(1 for cell in row if cell) for row in grid), default=0)
    for at, row in enumerate(grid[:-1]):
        names = [cell for cell in row if cell]
        below = grid[at + 1 : at + 4]
        if len(names) < max(2, 0.7 * width) or _share(row, _is_number) > 0.1:
            continue
        if any(_share(cells, _is_number) >= 0.3 for cells in below):
            return at
    return None


def _summary_words(header: list[str], rows: list[list[str]]) -> dict[str, tuple[str, ...]]:
    """Column to the words in it that mark a row as an average or a total."""
    found: dict[str, list[str]] = {}
    for row in rows:
        for name, cell in zip(header, row, strict=False):
            if cell and not _is_number(cell) and bare(cell) in SUMMARY_WORDS:
                found.setdefault(name, []).append(cell)
                break
    return {name: tuple(dict.fromkeys(words)) for name, words in found.items()}


def layout_of(data: bytes, ending: str) -> Layout | Unread:
    """Look at a file.

    Returns
    -------
    Layout, or Unread when no header can be found.
    """
    encoding, separator = "", ","
    if ending == ".xlsx":
        read = sheet_rows(data)
        if isinstance(read, Unread):
            return read
        grid, lines = read[:_MOST_LINES], [" ".join(cell for cell in row if cell) for row in read[:_MOST_LINES]]
    else:
        text, encoding = _decoded(data)
        lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")[:_MOST_LINES]
        separator = _separator([line for line in lines if line])
        grid = [row for line in lines for row in (_grid([line], separator) or [[]])]
    at = _header_at(grid)
    if at is None:
        return Unread("column_missing", hint="No row of column names could be found.")
    return _laid_out(grid, lines, at, separator, encoding)


def _laid_out(grid: list[list[str]], lines: list[str], at: int, separator: str, encoding: str) -> Layout:
    header = [name or f"column {place}" for place, name in enumerate(grid[at], 1)]
    while header and header[-1].startswith("column "):
        header.pop()
    has_units = _share(grid[at + 1], unit_of) >= 0.6
    body = [row[: len(header)] for row in grid[at + 1 + has_units :] if any(row) and len(row) >= len(header)]
    ignored = _summary_words(header, body)
    rows = [row for row in body if not any(row[header.index(name)] in words for name, words in ignored.items())]
    units = tuple(grid[at + 1][: len(header)]) if has_units else ()
    return Layout(separator, encoding, tuple(lines[:at]), tuple(header), units, tuple(map(tuple, rows)), ignored)
