"""The row of units below a header or above it, held against the units that a mapping names; no row of it is loaded."""

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
_ENOUGH = 2


def odd_units(mapping: Mapping, read: Cells) -> Unread | None:
    """Why the row of units is not the one that the mapping speaks of; None when it is, or when there is none.

    It stands below the header, or among the lines above it that a mapping skips. Cells that name no unit say nothing, and neither
    does a unit of something else: m may be metres or minutes.

    Parameters
    ----------
    mapping : Mapping
    read : Cells
        Under the export's own names.
    """
    units = read.units or _units_above(read)
    found = list(_named_units(mapping, read, units))
    values = [cell for _, cell, _ in found if _VALUE.fullmatch(cell)]
    if values:
        return Unread("no_row_of_units", values[0], n_rows=read.n_rows + 1)
    other = [(column, told, unit) for column, cell, unit in found if (told := unit_of(cell)) and _is_another(told, unit)]
    if not other:
        return None
    in_file, wanted = (", ".join(f"{row[0]} {row[place]}" for row in other) for place in (1, 2))
    return Unread("units_row_differs", f"the file says {in_file}, the mapping {wanted}", n_rows=read.n_rows)


def _units_above(read: Cells) -> tuple[str, ...]:
    """The line nearest above the header that names units in at least two columns, and no numbers; empty: none does."""
    rows = (row for row in reversed(read.above) if sum(bool(unit_of(cell)) for cell in row) >= _ENOUGH)
    return next((row for row in rows if not any(_VALUE.fullmatch(cell) for cell in row)), ())


def _named_units(mapping: Mapping, read: Cells, units: tuple[str, ...]) -> Iterator[tuple[str, str, str]]:
    """Columns that are read as numbers with a unit: name, the cell that names it, and the unit that the mapping takes them in."""
    below = dict(zip(read.header, units, strict=False))
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
