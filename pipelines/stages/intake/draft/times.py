"""Days, times of day and instants of a draft: from one column, from two, from three, or from a captured day."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from pipelines.stages.intake.draft import values
from pipelines.stages.intake.draft.drafted import DraftedColumn
from pipelines.stages.intake.draft.remarks import day_order

if TYPE_CHECKING:
    from pipelines.stages.intake.draft.captures import Captures
    from pipelines.stages.intake.draft.layout import Layout


def instant_column(
    layout: Layout, target: str, found: dict[str, DraftedColumn], captures: Captures, order: str = ""
) -> DraftedColumn:
    """When something was: takes ``date``, ``time`` and the whole column out of what was found."""
    date, time, whole = found.pop("date", None), found.pop("time", None), found.pop(target, None)
    if whole is not None and _is_clock(layout, whole) and time is None:
        whole, time = None, whole
    if whole is None and date is None and time is not None and values.instant_form(layout.cells(time.sources[0]))[0]:
        whole, time = time, None
    if whole is None and time is None and date is not None:
        whole = date
    if whole is not None:
        return _from_one(layout, target, whole, order)
    if date is not None and time is not None:
        return _from_two(layout, target, date, time, order)
    if time is not None and "day" in captures.names and captures.day_form:
        clock = values.clock_form(layout.cells(time.sources[0]))
        form = f"{captures.day_form} {clock}"
        column = DraftedColumn(target, (), time.sure, time.why, formats=(form,), template=f"{{day}} {{{time.sources[0]}}}")
        return column if clock else column.doubted("the form of times was not understood")
    return DraftedColumn(target, (), template="FILL IN").doubted("no column says when this was")


def _is_clock(layout: Layout, column: DraftedColumn) -> bool:
    return bool(values.clock_form(layout.cells(column.sources[0])))


def _from_one(layout: Layout, target: str, whole: DraftedColumn, order: str) -> DraftedColumn:
    form, alone = values.instant_form(layout.cells(whole.sources[0]), order)
    column = replace(whole, target=target, formats=(form,) if form not in {"", "iso"} else ())
    if form and all(re.search(r"[T ]00:00(?::00(?:\.0+)?)?$", cell) for cell in layout.cells(whole.sources[0])):
        return column.doubted("the day is there, the time of day is nowhere")
    return column if form and alone else column.doubted("the form of the times is not beyond doubt")


def _from_two(layout: Layout, target: str, date: DraftedColumn, time: DraftedColumn, order: str) -> DraftedColumn:
    day, alone = values.day_form(layout.cells(date.sources[0]), order)
    clock = values.clock_form(layout.cells(time.sources[0]))
    whys = "; ".join(why for why in (date.why, time.why) if why)
    forms = (f"{day} {clock}",) if day and clock else ()
    column = DraftedColumn(target, date.sources + time.sources, date.sure and time.sure, whys, formats=forms)
    if not forms:
        return column.doubted("the form of days or times was not understood")
    return column if alone else column.doubted("day and month could be swapped")


def day_of_parts(layout: Layout, target: str, found: dict[str, DraftedColumn]) -> DraftedColumn | None:
    """A day that stands in three columns: year, month and day."""
    if not {"year", "month"} <= found.keys() or target not in found:
        return None
    parts = [found.pop("year"), found.pop("month"), found.pop(target)]
    sources = tuple(part.sources[0] for part in parts)
    said = [" ".join(each) for each in zip(*(layout.cells(name) for name in sources), strict=False)]
    form = values.form_of(said, ("%Y %m %d", "%Y %b %d", "%Y %B %d"))
    if not form:
        return DraftedColumn(target, sources).doubted("the day stands in several columns and was not understood")
    clear = all(part.sure or not part.why or "form of the days" in part.why for part in parts)
    return DraftedColumn(target, sources, clear, formats=(form,))


def order_of_days(layout: Layout) -> str:
    """``dmy`` or ``mdy`` where the file shows it: written at a header, or by a day beyond the twelfth.

    Its language alone is no proof: programs write days as their own settings say.
    """
    told = {day_order(text) for text in (*layout.above, *layout.units, *map(layout.said, layout.header))} & {"dmy", "mdy"}
    if not told:
        forms = [values.day_form(cells) for cells in map(layout.cells, layout.header) if cells and values.looks_dated(cells[0])]
        forms += [
            values.instant_form(cells)
            for cells in map(layout.cells, layout.header)
            if cells and values.looks_dated(cells[0]) and ":" in cells[0]
        ]
        told = {values.order_of(form) for form, alone in forms if form and alone} - {""}
    return told.pop() if len(told) == 1 else ""
