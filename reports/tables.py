"""Tables: right-aligned tabular numerals, the unit in the header, sortable where a reader would sort.

A cell is text, or :class:`Cell` where it sorts by something other than what it shows. Everything is escaped here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from markupsafe import Markup, escape

from reports.markup import filled, is_plain, safe

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import date


MOST_LABELLED = 60
_MARKS = re.compile(r"(?<=[\w\d])([_.,;:/+@=-]+)(?=[\w\d])")


def breakable(text: str) -> Markup:
    """A name of a file or column, or what stood in a file: it may go on in the next line after each of its marks."""
    return Markup("<wbr>").join(escape(part) for part in _MARKS.sub(r"\1\n", text).split("\n"))


@dataclass(frozen=True)
class Cell:
    """One cell.

    Attributes
    ----------
    shown : str or Markup
        Text (escaped) or ready markup.
    sort : float or str or None
        What the column sorts by where that is not what the cell shows. None: by what it shows, in a column of numbers by the
        number that it begins with; nothing, a dash, or no number among numbers stands last.
    note : str
        A second, quieter line; text (escaped) or ready markup.
    """

    shown: str | Markup
    sort: float | str | None = None
    note: str | Markup = ""


def day_cell(shown: str, day: date) -> Cell:
    """A day, which stays on one line and by which the column sorts."""
    return Cell(Markup('<time datetime="{0}">{1}</time>').format(day.isoformat(), shown), day.isoformat())


@dataclass(frozen=True)
class Head:
    """One column's head.

    Attributes
    ----------
    label : str
    unit : str
        Printed quietly below the label.
    number : bool
        Right-aligned, tabular numerals.
    narrow : bool
        Kept on a phone; a column that is not kept moves into the row's second line there.
    """

    label: str
    unit: str = ""
    number: bool = False
    first: bool = False


def _head(head: Head, sortable: bool, index: int) -> str:
    unit = f'<span class="unit">{escape(head.unit)}</span>' if head.unit else ""
    inner = f"{escape(head.label)}{unit}"
    if sortable and head.label:
        inner = f'<button type="button" data-sort="{index}">{inner}</button>'
    kind = ' class="number"' if head.number else ""
    return f'<th scope="col"{kind}>{inner}</th>'


def _sort_attribute(cell: Cell) -> str:
    if cell.sort is None:
        return ""
    value = f"{cell.sort:.6g}" if isinstance(cell.sort, float) else str(cell.sort)
    return f' data-value="{safe(value)}"'


def _column(head: Head, *, labelled: bool) -> tuple[str, str]:
    """What stands before and after what a column's cells hold."""
    named = f"{head.label}, {head.unit}" if head.unit else head.label
    kind = ' class="number"' if head.number else ""
    label = f' data-label="{escape(named)}"' if labelled and named else ""
    return (f'<th scope="row"{kind}{label}', "</th>") if head.first else (f"<td{kind}{label}", "</td>")


def _cell(value: str | Cell, *, sortable: bool) -> str:
    """What a cell holds, with the attribute that it sorts by where it can be sorted; every part is escaped here."""
    if not isinstance(value, Cell):
        return f">{safe(value)}"
    note = f'<span class="note">{safe(value.note)}</span>' if value.note else ""
    return f"{_sort_attribute(value) if sortable else ''}>{safe(value.shown)}{note}"


def _row(columns: Sequence[tuple[str, str]], cells: Sequence[str | Cell], attributes: str, *, sortable: bool) -> str:
    texts = [cell for cell in cells if type(cell) is str]  # markup is a kind of text too
    if len(texts) == len(cells) and is_plain(texts):
        inside = "".join([f"{before}>{text}{after}" for (before, after), text in zip(columns, texts, strict=True)])
        return f"<tr{attributes}>{inside}</tr>"
    inside = "".join(
        f"{before}{_cell(cell, sortable=sortable)}{after}" for (before, after), cell in zip(columns, cells, strict=True)
    )
    return f"<tr{attributes}>{inside}</tr>"


@dataclass(frozen=True)
class Row:
    """Cells of one row, with words that a filter looks for.

    Attributes
    ----------
    cells : sequence of str or Cell
    find : str
        Text searched by the filter box; empty: the row's own text.
    tags : tuple of str
        Values of the filter choices that keep this row.
    anchor : str
        Id of the row, for links.
    """

    cells: Sequence[str | Cell]
    find: str = ""
    tags: tuple[str, ...] = ()
    anchor: str = ""

    def attributes(self) -> Markup:
        """Attributes of the row element."""
        found = Markup("")
        if self.anchor:
            found += filled(' id="{}"', self.anchor)
        if self.find:
            found += filled(' data-find="{}"', self.find.lower())
        if self.tags:
            found += filled(' data-tags="{}"', " ".join(self.tags))
        return found


def table(
    heads: Sequence[Head],
    rows: Iterable[Row | Sequence[str | Cell]],
    *,
    caption: str,
    sortable: bool = False,
    kind: str = "",
    show_caption: bool = False,
) -> Markup:
    """A table.

    Parameters
    ----------
    heads : sequence of Head
        Mark the first column with ``first=True``: its cells are the row's heading.
    rows : iterable of Row or sequence of cells
    caption : str
        What the table holds; read out, and printed only with ``show_caption``.
    sortable : bool
        Headers become buttons.
    kind : str
        Class name for its own layout; ``stack`` turns rows into cards on a phone.
    """
    rows = list(rows)
    labelled = "stack" in kind.split() and len(rows) <= MOST_LABELLED  # the page's script labels the cells of longer tables
    columns = [_column(each, labelled=labelled) for each in heads]
    body = "".join(
        _row(columns, row.cells, row.attributes(), sortable=sortable)
        if isinstance(row, Row)
        else _row(columns, row, "", sortable=sortable)
        for row in rows
    )
    head = "".join(_head(each, sortable, index) for index, each in enumerate(heads))
    return filled(
        '<div class="scroll" tabindex="0" role="group" aria-label="{}"><table class="{}"{}><caption class="{}">{}</caption>'
        "<thead><tr>{}</tr></thead><tbody>{}</tbody></table></div>",
        caption,
        kind,
        Markup(" data-sortable") if sortable else "",
        "" if show_caption else "quiet",
        caption,
        Markup(head),  # noqa: S704 - made of escaped parts by _head
        Markup(body),  # noqa: S704 - made of escaped parts by _row
    )
