"""A draft is tried on the file that it was made from: a column whose cells do not load through it is not sure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipelines.stages.intake.cast import typed
from pipelines.stages.intake.mapped import native_rows
from pipelines.stages.intake.mapping import Mapping, parsed_mapping
from pipelines.stages.intake.mapping_text import searched
from pipelines.stages.intake.people import People
from pipelines.stages.intake.table import Cells
from schemas.errors import SettingsError
from schemas.files import KINDS

if TYPE_CHECKING:
    from pipelines.stages.intake.draft.drafted import DraftedColumn, Drafting


def doubted_by_rows(draft: Drafting, columns: dict[str, DraftedColumn], text: str, name: str) -> dict[str, DraftedColumn]:
    """The columns, those in doubt whose cells cannot be read, lie outside the contract, or are no words of ours."""
    try:
        mapping = parsed_mapping("draft", text)
    except SettingsError as fault:
        return {target: column.doubted(f"the draft does not hold together: {fault.what}") for target, column in columns.items()}
    rows = [list(row) for row in draft.layout.rows]
    people = _anybody(draft, columns)
    read = native_rows(mapping, draft.layout.header, rows, _outside(mapping, draft.layout.above, name), people)
    if not isinstance(read, Cells):
        return {target: column.doubted("the file's own rows do not load") for target, column in columns.items()}
    kind = KINDS[draft.kind]
    values, faults = typed(kind, read.rows, "UTC")
    unread = set(faults["column"].to_list())
    for column in kind.columns:
        quantity, series = column.field, values[column.name]
        if quantity.allowed and not series.drop_nulls().is_in(list(quantity.allowed)).all():
            unread.add(column.name)
        if (
            quantity.low is not None
            and quantity.high is not None
            and not series.drop_nulls().is_between(quantity.low, quantity.high).all()
        ):
            unread.add(column.name)
    return {
        target: column.doubted("not all cells of the file load this way") if target in unread and column.sure else column
        for target, column in columns.items()
    }


def _outside(mapping: Mapping, above: tuple[str, ...], name: str) -> dict[str, str]:
    """What the patterns of the draft find outside the rows."""
    found = searched(mapping.file_name, name) or {} if mapping.file_name else {}
    for line, pattern in mapping.heading:
        found |= searched(pattern, above[line - 1]) or {}
    return found


def _anybody(draft: Drafting, columns: dict[str, DraftedColumn]) -> People:
    """A hand for every player of the file, so that sides can be tried."""
    player = columns.get("player_id")
    if player is None or not player.sources or player.sources[0] not in draft.layout.header:
        return People()
    return People({}, dict.fromkeys(draft.layout.cells(player.sources[0]), "right"))
