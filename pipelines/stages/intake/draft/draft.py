"""A drafted mapping for an unknown file: its text, and how sure each column is."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from pipelines.stages.intake import disk
from pipelines.stages.intake.discover import one_file
from pipelines.stages.intake.draft import values
from pipelines.stages.intake.draft.captures import Captures
from pipelines.stages.intake.draft.columns import DraftedColumn, drafted_columns
from pipelines.stages.intake.draft.layout import Layout, layout_of
from pipelines.stages.intake.draft.words import understood
from pipelines.stages.intake.draft.write import mapping_text
from pipelines.stages.intake.table import Unread
from schemas.errors import IntakeError
from schemas.fields import ID_PATTERN

if TYPE_CHECKING:
    from pathlib import Path

_DAY_IN_NAME = r"\d{4}-\d{2}-\d{2}"
_ID_IN_NAME = r"[A-Za-z]{1,4}\d{1,5}"


@dataclass(frozen=True)
class DraftedMapping:
    """A draft.

    Attributes
    ----------
    text : str
        The mapping, with a remark at everything that is unsure.
    kind : str
    columns : tuple of DraftedColumn
        Each with ``sure`` and ``why``.
    left_out : tuple of str
        Columns of the file that the mapping leaves out; those that were not understood are marked in the text.
    not_understood : tuple of str
    """

    text: str
    kind: str
    columns: tuple[DraftedColumn, ...]
    left_out: tuple[str, ...]
    not_understood: tuple[str, ...]


def _in_name(name: str, *, wants_player: bool, wants_day: bool) -> str:
    """A pattern for what stands in the file's name."""
    stem = name.rsplit(".", 1)[0]
    found = []
    if wants_player and (match := re.search(rf"(?<![A-Za-z\d]){_ID_IN_NAME}(?![A-Za-z\d])", stem)):
        found.append((match.start(), f"(?P<player_id>{_ID_IN_NAME})"))
    if wants_day and (match := re.search(_DAY_IN_NAME, stem)):
        found.append((match.start(), f"(?P<day>{_DAY_IN_NAME})"))
    if not found:
        return ""
    found.sort()
    return ".*?".join(pattern for _, pattern in found)


def _headings(above: tuple[str, ...], wanted: set[str]) -> list[tuple[int, str]]:
    """Patterns for lines above the header that name something we want: ``Player: P07``."""
    groups = {"player_id": ("player_id", r"\S+?"), "session_id": ("session_id", r"\S+?"), "date": ("day", r"\S+?")}
    found = []
    for number, line in enumerate(above, 1):
        match = re.match(r"^\W*([^\W\d][^:=;\t,]*?)\s*[:=;\t,]+\s*(\S+?)\s*[;,\t]*$", line)
        target = understood(match[1]).target if match else ""
        if match and target in groups and groups[target][0] in wanted:
            group, value = groups[target]
            found.append((number, rf"{re.escape(match[1])}\s*[:=;\t,]+\s*(?P<{group}>{value})\s*[;,\t]*$"))
            wanted.discard(group)
    return found


def _captures(layout: Layout, name: str, found: dict[str, DraftedColumn], kind: str) -> Captures:
    wanted = {target for target in ("player_id", "session_id") if target not in found}
    if kind == "shots" and not {"date", "struck_at"} & found.keys():
        wanted.add("day")
    heading = _headings(layout.above, wanted)
    pattern = _in_name(name, wants_player="player_id" in wanted, wants_day="day" in wanted)
    names = {group for _, text in heading for group in re.compile(text).groupindex}
    names |= set(re.compile(pattern).groupindex) if pattern else set()
    return Captures(pattern, tuple(heading), frozenset(names))


def _struck_at(layout: Layout, found: dict[str, DraftedColumn], captures: Captures) -> DraftedColumn:
    """When a ball was struck, from one column, from date and time, or from a captured day and a time."""
    date, time = found.pop("date", None), found.pop("time", None)
    whole = found.pop("struck_at", None) or (date if time is None else None)
    if whole is not None:
        form, alone = values.instant_form(layout.cells(whole.sources[0]))
        formats = (form,) if form not in {"", "iso"} else ()
        column = replace(whole, target="struck_at", formats=formats)
        return column if form and alone else column.doubted("the form of the times is not beyond doubt")
    if date is not None and time is not None:
        day, alone = values.day_form(layout.cells(date.sources[0]))
        clock = values.clock_form(layout.cells(time.sources[0]))
        column = DraftedColumn(
            "struck_at",
            date.sources + time.sources,
            date.sure and time.sure,
            formats=(f"{day} {clock}",) if day and clock else (),
        )
        if not (day and clock):
            return column.doubted("the form of days or times was not understood")
        return column if alone else column.doubted("day and month could be swapped")
    if time is not None and "day" in captures.names:
        clock = values.clock_form(layout.cells(time.sources[0]))
        column = DraftedColumn("struck_at", (), formats=(f"%Y-%m-%d {clock}",), template=f"{{day}} {{{time.sources[0]}}}")
        return column if clock else column.doubted("the form of times was not understood")
    return DraftedColumn("struck_at", (), template="FILL IN").doubted("no column says when the balls were struck")


def _shot_columns(layout: Layout, found: dict[str, DraftedColumn], captures: Captures) -> dict[str, DraftedColumn]:
    made = {"struck_at": _struck_at(layout, found, captures)}
    if "player_id" in found:
        ids = layout.cells(found["player_id"].sources[0])
        if not all(re.match(ID_PATTERN, cell) for cell in ids):
            found["player_id"] = found["player_id"].doubted("these are no ids; name them in words")
    elif "player_id" not in captures.names:
        made["player_id"] = DraftedColumn("player_id", template="FILL IN").doubted("nothing says whose shots these are")
    if "session_id" not in found and "session_id" not in captures.names:
        made["session_id"] = DraftedColumn("session_id", template="{player_id}-{day}", why="one session a player and day")
    if "shot_no" not in found:
        made["shot_no"] = DraftedColumn("shot_no", number_rows=True, why="numbered in the order of the file")
    if "club" not in found:
        made["club"] = DraftedColumn("club", template="FILL IN").doubted("nothing says which club was used")
    return made | found


def _all_cells(layout: Layout) -> list[str]:
    return [cell for row in layout.rows for cell in row if values.is_numeric([cell])]


def draft_mapping(path: Path) -> DraftedMapping:
    """Draft a mapping for an unknown file.

    Raises
    ------
    IntakeError
        When the file cannot be read, or nothing in it is understood.
    """
    try:
        arrival = one_file(path)
    except OSError as fault:
        raise IntakeError(f"There is no file {path}.", "Check the path.") from fault
    data = disk.content(arrival)
    if isinstance(data, str):
        raise IntakeError(f"The file {path} cannot be read ({data}).", "Check its permissions, and that it is a file.")
    layout = layout_of(data, arrival.ending)
    if isinstance(layout, Unread):
        raise IntakeError(f"No table of shots or answers was found in {path}.", "Export it with a row of column names.")
    decimal, thousands, beyond_doubt = values.decimal_sign(_all_cells(layout))
    kind, found, not_kept, unknown = drafted_columns(layout, (decimal, thousands))
    if not kind:
        raise IntakeError(
            f"No column of {path} was understood as a quantity that is kept.",
            "Write the mapping by hand: `speedworth map --keys`.",
        )
    captures = _captures(layout, path.name, found, kind)
    columns = _shot_columns(layout, found, captures) if kind == "shots" else found
    text = mapping_text(layout, kind, columns, captures, (decimal, thousands), beyond_doubt, not_kept, unknown)
    left_out = tuple(header for header in layout.header if header in {*not_kept, *unknown})
    return DraftedMapping(text, kind, tuple(columns.values()), left_out, tuple(unknown))
