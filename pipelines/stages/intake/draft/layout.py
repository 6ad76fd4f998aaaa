"""How an unknown file is laid out: format, encoding, separator, sheets, header, units row, rows that are no rows."""

from __future__ import annotations

import codecs
import csv
import io
import json
import re
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import fastexcel
import polars as pl

from pipelines.stages.intake.draft.lexicon import meaning_of, split_unit, unit_of
from pipelines.stages.intake.draft.values import is_summary, looks_dated, names_summary
from pipelines.stages.intake.header import header_names
from pipelines.stages.intake.nested import document, lists_in, nested_json
from pipelines.stages.intake.other_formats import parquet_cells, sheet_rows
from pipelines.stages.intake.table import Cells, Unread
from schemas.units import UNITS

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

_SEPARATORS = (";", "\t", ",", "|")
_MOSTLY_UNITS = 0.6
_FORM = re.compile(
    r"#|-|n|id|code|text|[dmyjtagå]{1,4}(?:[-./ ][dmyjtagå]{1,4}){1,2}|h{1,2}:m{1,2}(?::s{1,2})?|\S+/s|y/n", re.IGNORECASE
)
"""What stands in a row of units below a day, a time, a number."""
_MOST_LINES, _WIDE_ENOUGH = 400, 4


def is_dotted(name: str) -> bool:
    """Whether a header is a way into nested data, and not a sentence with its stops."""
    return bool(re.search(r"[^\s.]\.[^\s.]", name))


@dataclass(frozen=True)
class Layout:
    """What was found.

    Attributes
    ----------
    delimiter, encoding, sheet, way : str
        ``way`` leads to the list of rows of nested data.
    header_lines : int
    above : tuple of str
        Lines above the header.
    header, units : tuple of str
        ``units`` is empty when there is no units row.
    rows : tuple of tuple of str
        The first rows, without those that are no rows.
    ignored : dict
        Column to the words that mark averages and totals.
    alone : dict
        Columns below the name of a group that they do not seem to belong to, to what they are called without it.
    last_line : tuple of str
        The last line of a header of two.
    """

    delimiter: str
    encoding: str
    above: tuple[str, ...]
    header: tuple[str, ...]
    units: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    ignored: dict[str, tuple[str, ...]]
    sheet: str = ""
    way: str = ""
    header_lines: int = 1
    alone: dict[str, str] = field(default_factory=dict)
    last_line: tuple[str, ...] = ()

    def cells(self, header: str) -> list[str]:
        """The cells of a column that hold something."""
        at = self.header.index(header)
        return [row[at] for row in self.rows if row[at]]

    def is_dated(self, header: str) -> bool:
        """Whether all cells of a column that hold something are days or times of day."""
        cells = self.cells(header)
        return bool(cells) and all(map(looks_dated, cells))

    def unit_cell(self, header: str) -> str:
        """What the units row says of a column."""
        at = self.header.index(header)
        return self.units[at] if at < len(self.units) else ""

    def measures(self, header: str) -> str:
        """What the unit of a column measures, as it is written in its header or below it; empty when none is."""
        unit = unit_of(self.unit_cell(header)) or split_unit(self.said(header))[1]
        return UNITS[unit].quantity if unit else ""

    def name_alone(self, header: str) -> str:
        """What a header says without the name of its group, or the way to it."""
        at = self.header.index(header)
        if at < len(self.last_line) and self.last_line[at]:
            return self.last_line[at]
        return header.rpartition(".")[2] if self.way or is_dotted(header) else header

    def said(self, header: str) -> str:
        """The header as a person reads it: dotted ways as words, without the way to the rows."""
        name = self.alone.get(header, header.removeprefix(f"{self.way}.") if self.way else header)
        return name.replace(".", " ") if self.way or is_dotted(name) else name


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
        pass
    try:
        shift = data.decode("cp932")
    except UnicodeDecodeError:
        return data.decode("cp1252", "replace"), "cp1252"
    japanese = sum("\u3040" <= sign <= "\u30ff" for sign in shift)
    return (shift, "cp932") if japanese >= 5 else (data.decode("cp1252", "replace"), "cp1252")


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
    if not cell or not (cell[0].isdigit() or cell[0] in "+-−.,") or not any(sign.isdigit() for sign in cell):
        return False
    return all(unit_of(word) for word in re.findall(r"[^\W\d_]{5,}", cell))  # a name may begin with its number


def _share(cells: Sequence[str], test: Callable[[str], object]) -> float:
    filled = [cell for cell in cells if cell]
    return sum(1 for cell in filled if test(cell)) / len(filled) if filled else 0.0


def _is_known(cell: str) -> bool:
    return bool(meaning_of(re.sub(r"\d+\W*", " ", cell)).concepts)


def _header_at(grid: list[list[str]]) -> int | None:
    """The first row of names, nearly as wide as the widest, above a row with numbers; or the first that is mostly known words."""
    width = max((sum(1 for cell in row if cell) for row in grid), default=0)
    for at, row in enumerate(grid[:-1]):
        names = [cell for cell in row if cell]
        below = grid[at + 1 : at + 4]
        if len(names) < max(2, 0.6 * width) or _share(row, _is_number) > 0.1:
            continue
        if any(_share(cells, _is_number) >= 0.3 for cells in below) or _share(row, _is_known) >= 0.5:
            return at
    return None


def _summary_words(header: Sequence[str], rows: list[list[str]]) -> dict[str, tuple[str, ...]]:
    """Column to the words in it that mark a row as an average or a total."""
    found: dict[str, dict[str, list[int]]] = {}
    for at, row in enumerate(rows):
        for name, cell in zip(header, row, strict=False):
            if cell and not _is_number(cell) and (is_summary(cell) or names_summary(cell)):
                found.setdefault(name, {}).setdefault(cell, []).append(at)
                break
    kept = {
        name: tuple(
            word for word, places in words.items() if _sums_up(header.index(name), rows, set(places), whole=is_summary(word))
        )
        for name, words in found.items()
    }
    return {name: words for name, words in kept.items() if words}


def _sums_up(place: int, rows: list[list[str]], marked: set[int], *, whole: bool) -> bool:
    """Whether the rows of such a word sum up others: it stands among numbers and ids, or they lack what the others have.

    A word of a column of words, in rows as full as the rest, is an answer: ``medel`` is an effort too. A text that has such a
    word beside others (``Block average``) has to stand among numbers and ids, and its row to lack what all others have.
    """
    others = [row for at, row in enumerate(rows) if at not in marked]
    if not others:
        return False
    among_ids = _share([row[place] for row in others if place < len(row)], lambda cell: re.search(r"\d", cell)) > 0.5
    if whole and among_ids:
        return True
    sums = [rows[at] for at in marked]
    return (whole or among_ids) and any(
        not any(row[at] for row in sums) and sum(1 for row in others if row[at]) >= 0.9 * len(others)
        for at in range(min(map(len, rows)))
    )


def _lines_below(header: Sequence[str], rows: list[list[str]]) -> dict[str, tuple[str, ...]]:
    """Column to a text that stands alone in a line below the table, as a count of its rows does."""
    found: dict[str, tuple[str, ...]] = {}
    for row in reversed(rows) if len(header) >= _WIDE_ENOUGH else []:
        told = [(name, cell) for name, cell in zip(header, row, strict=False) if cell]
        if len(told) != 1 or not re.search(r"[^\W\d_]{3,}", told[0][1]):
            break
        found[told[0][0]] = (*found.get(told[0][0], ()), told[0][1])
    return found


def _not_of_group(header: Sequence[str], upper: list[str], lower: list[str]) -> dict[str, str]:
    """Columns right of a group whose other names all stand below other groups too, while theirs does not: ``Tester``."""
    groups: list[list[int]] = []
    for place, below in enumerate(lower[: len(header)]):
        if not below:
            continue
        if upper[place] or not groups:
            groups.append([])
        groups[-1].append(place)
    often = Counter(name for group in groups for name in {lower[place] for place in group})
    return {
        header[place]: lower[place]
        for group in groups
        for place in group
        if not upper[place]
        and often[lower[place]] == 1
        and len(group) > 1
        and all(often[lower[other]] > 1 for other in group if other != place)
    }


def layouts_of(data: bytes, ending: str) -> list[Layout]:
    """Every table of a file: one for text, one for each sheet of a workbook, one for nested data; none when none is found."""
    if ending == ".xlsx":
        return _sheets(data)
    if ending in {".json", ".jsonl", ".parquet"}:
        return _from_cells(data, ending)
    text, encoding = _decoded(data)
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")[:_MOST_LINES]
    separator = _separator([line for line in lines if line])
    grid = [row for line in lines for row in (_grid([line], separator) or [[]])]
    laid_out = _laid_out(grid, lines, separator, encoding, "")
    return [laid_out] if laid_out else []


def _sheets(data: bytes) -> list[Layout]:
    first = sheet_rows(data)  # refuses what is no workbook, or too large
    if isinstance(first, Unread):
        return []
    found = []
    names = fastexcel.read_excel(data).sheet_names
    for place, name in enumerate(names):
        grid = first if place == 0 else sheet_rows(data, sheet=name)
        if isinstance(grid, Unread):
            continue
        grid = grid[:_MOST_LINES]
        lines = [" ".join(cell for cell in row if cell) for row in grid]
        laid_out = _laid_out(grid, lines, ",", "", name if len(names) > 1 else "")
        found += [laid_out] if laid_out else []
    return found


def _from_cells(data: bytes, ending: str) -> list[Layout]:
    ways = ["", *(_ways(data, ending))]
    best: Layout | None = None
    for way in ways:
        read = (
            parquet_cells(data, native=False, way=way)
            if ending == ".parquet"
            else nested_json(data, way, whole=ending == ".json")
        )
        if isinstance(read, Cells) and (layout := _of_cells(read, way)) and (best is None or _known(layout) > _known(best)):
            best = layout
    return [best] if best else []


def _of_cells(read: Cells, way: str) -> Layout | None:
    told = [name for name in read.header if (read.rows[name].str.starts_with("[list of").fill_null(value=False)).any()]
    header = [name for name in read.header if name not in told]
    if len(header) < 2:
        return None
    rows = [[cell or "" for cell in row] for row in read.rows.select(header).head(_MOST_LINES).iter_rows()]
    ignored = _summary_words(header, rows)
    kept = [row for row in rows if not any(row[header.index(name)] in words for name, words in ignored.items())]
    return Layout(",", "", (), tuple(header), (), tuple(map(tuple, kept)), ignored, way=way)


def _known(layout: Layout) -> int:
    return sum(1 for name in layout.header if meaning_of(layout.said(name)).concepts)


def _ways(data: bytes, ending: str) -> list[str]:
    if ending == ".parquet":
        return _parquet_ways(pl.read_parquet_schema(io.BytesIO(data)))
    first = document(data) if ending == ".json" else None
    if first is None:
        try:
            first = json.loads(data.removeprefix(b"\xef\xbb\xbf").split(b"\n", 1)[0])
        except ValueError:
            return []
    return lists_in(first)


def _parquet_ways(schema: dict[str, pl.DataType], prefix: str = "") -> list[str]:
    found = []
    for name, kind in schema.items():
        inner = kind.inner if isinstance(kind, pl.List) else kind
        if isinstance(inner, pl.Struct):
            found += [f"{prefix}{name}"] if isinstance(kind, pl.List) else []
            found += _parquet_ways({field.name: field.dtype for field in inner.fields}, f"{prefix}{name}.")  # type: ignore[misc]
    return found


def _header_lines(grid: list[list[str]], at: int) -> tuple[int, int]:
    """First line of the header, and how many lines it has: a second one holds names too, beside gaps or below groups."""
    if at + 2 < len(grid) and (any(not cell for cell in grid[at]) or _names_groups(grid[at])):
        below = grid[at + 1]
        if (
            any(below)
            and _share(below, _is_number) == 0
            and _share(below, unit_of) < 0.6
            and any(_share(row, _is_number) >= 0.3 for row in grid[at + 2 : at + 4])
        ):
            return at, 2
    if at > 0:
        above = [cell for cell in grid[at - 1] if cell]
        if (
            2 <= len(above) < len(grid[at])
            and _share(above, _is_number) == 0
            and not any(re.search(r"[:=：＝]", re.sub(r"[\[(（].*?[\])）]", "", cell)) for cell in above)
        ):
            return at - 1, 2
    return at, 1


def _names_groups(row: list[str]) -> bool:
    """Whether a row only names groups of columns, each name again over every column of its group."""
    runs = [name for at, name in enumerate(row) if at == 0 or name != row[at - 1]]
    return len(runs) <= len(row) / 2


def _are_units(row: list[str], below: list[list[str]]) -> bool:
    """Whether a row below the header names units and forms, and no number, while numbers stand below it."""
    if _share(row, lambda cell: unit_of(re.split(r"[,;(]", cell)[0])) >= _MOSTLY_UNITS:
        return True
    share = _share(row, lambda cell: unit_of(re.split(r"[,;(]", cell)[0]) or _FORM.fullmatch(cell))
    return (
        share >= _MOSTLY_UNITS / 2
        and not any(map(_is_number, row))
        and bool(below)
        and all(_share(cells, _is_number) >= _MOSTLY_UNITS / 2 for cells in below if any(cells))
    )


def _laid_out(grid: list[list[str]], lines: list[str], separator: str, encoding: str, sheet: str) -> Layout | None:
    found = _header_at(grid)
    if found is None:
        return None
    at, n_lines = _header_lines(grid, found)
    header = header_names(grid[at : at + n_lines], 0)
    below = at + n_lines
    has_units = below < len(grid) and _are_units(grid[below], grid[below + 1 : below + 4])
    body = [[*row, *[""] * len(header)][: len(header)] for row in grid[below + has_units :] if any(row)]
    ignored = _summary_words(header, body)
    for name, words in _lines_below(header, body).items():
        ignored[name] = tuple(dict.fromkeys((*ignored.get(name, ()), *words)))
    rows = [row for row in body if not any(row[header.index(name)] in words for name, words in ignored.items())]
    units = tuple(grid[below][: len(header)]) if has_units else ()
    return Layout(
        separator, encoding, tuple(lines[:at]), header, units, tuple(map(tuple, rows)), ignored, sheet, header_lines=n_lines,
        alone=_not_of_group(header, grid[at], grid[at + 1]) if n_lines > 1 else {},
        last_line=tuple(grid[at + 1]) if n_lines > 1 else (),
    )  # fmt: skip
