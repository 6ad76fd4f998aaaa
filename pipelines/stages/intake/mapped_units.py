"""The row of units below a header, held against the units that a mapping names: it leaves the file unread, and may not differ."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from pipelines.stages.intake.draft.lexicon import unit_of
from pipelines.stages.intake.table import Cells, Unread
from schemas.files import KINDS
from schemas.units import UNITS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pipelines.stages.intake.mapping import Mapping

_VALUE = re.compile(r"[+-]?\d[\d.,]*")


def odd_units(mapping: Mapping, read: Cells) -> Unread | None:
    """Why the row below the header is not the row of units that the mapping speaks of; None when it is, or when there is none.

    Cells that name no unit say nothing, and neither does a unit of something else: m may be metres or minutes.

    Parameters
    ----------
    mapping : Mapping
    read : Cells
        Under the export's own names.
    """
    found = list(_named_units(mapping, read))
    values = [cell for _, cell, _ in found if _VALUE.fullmatch(cell)]
    if values:
        return Unread("no_row_of_units", values[0], n_rows=read.n_rows + 1)
    other = [(column, told, unit) for column, cell, unit in found if (told := unit_of(cell)) and _is_another(told, unit)]
    if not other:
        return None
    in_file, wanted = (", ".join(f"{row[0]} {row[place]}" for row in other) for place in (1, 2))
    return Unread("units_row_differs", f"the file says {in_file}, the mapping {wanted}", n_rows=read.n_rows)


def _named_units(mapping: Mapping, read: Cells) -> Iterator[tuple[str, str, str]]:
    """Columns that are read as numbers with a unit: name, the cell below it, and the unit that the mapping takes them in."""
    below = dict(zip(read.header, read.units, strict=False))
    long = (
        dict(zip(mapping.long.values, zip(*(c for _, c in mapping.long.rows), strict=True), strict=True)) if mapping.long else {}
    )
    for rule in mapping.columns:
        field = KINDS[mapping.kind].column(rule.target).field
        if field.kind not in {"number", "integer"} or not field.unit or rule.duration:
            continue
        columns = [*rule.columns, *read.header[rule.position - 1 : rule.position]] if rule.position else rule.columns
        for column in (name for source in columns for name in long.get(source, (source,))):
            yield column, below.get(column, ""), rule.unit or field.unit


def _is_another(told: str, wanted: str) -> bool:
    one, other = UNITS[told], UNITS[wanted]
    return one.quantity == other.quantity and (one.factor, one.offset) != (other.factor, other.offset)
