"""A drafted mapping for an unknown file: its text, and how sure each column is."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from pipelines.stages.intake import disk
from pipelines.stages.intake.discover import one_file
from pipelines.stages.intake.draft import values
from pipelines.stages.intake.draft.captures import Captures, captures_of, units_above
from pipelines.stages.intake.draft.columns import DraftedColumn, Drafting, drafted_column, looks_like_ids
from pipelines.stages.intake.draft.headings import SAYS_MORE, SHARED, Heading, heading
from pipelines.stages.intake.draft.kinds import kind_of, may_be_another
from pipelines.stages.intake.draft.layout import Layout, layouts_of
from pipelines.stages.intake.draft.lexicon import Meaning, listed_words, meaning_of, telling
from pipelines.stages.intake.draft.proof import doubted_by_rows
from pipelines.stages.intake.draft.targets import NOT_KEPT, target_of
from pipelines.stages.intake.draft.times import day_of_parts, instant_column, order_of_days
from pipelines.stages.intake.draft.wide import LongDraft, beside_strangers, long_draft, sided_pairs
from pipelines.stages.intake.draft.write import mapping_text
from schemas.errors import IntakeError
from schemas.files import KINDS
from schemas.units import UNITS

if TYPE_CHECKING:
    from pathlib import Path

_NATIVE_SHARE = 0.6
_NUMBER = re.compile(r"(?:^|[\W_])(?:no|nr|num|number|id|nummer|numero|número|n[.º°]+)(?:$|[\W_])", re.IGNORECASE)


@dataclass(frozen=True)
class Hints:
    """What a person who drafts says of the file.

    Attributes
    ----------
    kind : str
        Kind of file; empty: by its headers.
    columns : dict
        Column of ours to the column of the file.
    date : str
        Column of the file with the day or the time, whatever its kind calls it.
    """

    kind: str = ""
    columns: dict[str, str] = field(default_factory=dict)
    date: str = ""


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
    sheet : str
        The sheet of a workbook with several.
    header : tuple of str
        All columns of the file.
    """

    text: str
    kind: str
    columns: tuple[DraftedColumn, ...]
    left_out: tuple[str, ...]
    not_understood: tuple[str, ...]
    sheet: str = ""
    header: tuple[str, ...] = ()


def _all_numbers(layout: Layout) -> list[str]:
    return [cell for row in layout.rows for cell in row if values.is_numeric([cell]) and not values.looks_dated(cell)]


def _best(kind: str, headings: list[Heading], hints: Hints) -> tuple[dict[str, Heading], list[str], list[str]]:
    """Target to its heading; headers that name something known that is not kept; headers that nothing explains."""
    best: dict[str, Heading] = {}
    not_kept: list[str] = []
    unknown: list[str] = []
    told = {column: target for target, column in hints.columns.items()}
    told |= {hints.date: target_of("timestamp", kind) or target_of("date", kind)} if hints.date else {}
    ranked = sorted(
        headings,
        key=lambda one: (
            one.header not in told,
            not one.native,
            len(one.meaning.left),
            bool({"name", "backspin"} & set(one.meaning.concepts)),
        ),
    )
    for one in ranked:
        targets = [target_of(concept, kind) for concept in one.meaning.concepts] if len(one.meaning.left) <= 1 else []
        targets = [told[one.header]] if one.header in told else list(dict.fromkeys(target for target in targets if target))
        if len(targets) > 1 and one.unit:  # wind in km/h is no direction
            targets = [target for target in targets if _has_unit(kind, target, one.unit)] or targets
        free = [target for target in targets if target not in best]
        if free:
            doubt = (
                _without_planned(kind, one)
                if len(targets) == 1
                else f"it could also be {' or '.join(target for target in targets if target != free[0])}"
            )
            best[free[0]] = replace(one, doubt="" if one.header in told else doubt)
        elif set(one.meaning.concepts) & set(NOT_KEPT) and not one.meaning.left:
            not_kept.append(one.header)
        else:
            if targets and not one.meaning.left and one.meaning.concepts not in {("name",), ("backspin",)}:
                best[targets[0]] = replace(best[targets[0]], doubt=best[targets[0]].doubt or _second(best[targets[0]], one))
            unknown.append(one.header)
    order = [one.header for one in headings]
    return best, sorted(not_kept, key=order.index), sorted(unknown, key=order.index)


def _has_unit(kind: str, target: str, unit: str) -> bool:
    own = KINDS[kind].column(target).field.unit if target in KINDS[kind].names else ""
    return bool(own) and unit in UNITS and UNITS[own].quantity == UNITS[unit].quantity


def _without_planned(kind: str, one: Heading) -> str:
    """The doubt of a header, none where all that a plan's header says more is that it is planned."""
    says_planned = kind == "plans" and one.doubt == SAYS_MORE and not set(one.meaning.left) - listed_words("planned")
    return "" if says_planned else one.doubt


def _second(first: Heading, other: Heading) -> str:
    return "" if first.native and not other.native else f"{other.header} could be it too"


def _wanted(kind: str, targets: set[str]) -> set[str]:
    wanted = {str(target) for target in ("player_id", "session_id") if target in KINDS[kind].required} - targets
    if kind in {"shots", "sessions"} and not {"date", "struck_at", "started_at"} & targets:
        wanted.add("day")
    return wanted


def _player(layout: Layout, found: dict[str, DraftedColumn]) -> None:
    """Cells that are no ids are names, which are looked up."""
    column = found.get("player_id")
    if column is None or not column.sources:
        return
    cells = layout.cells(column.sources[0])
    if len(column.sources) > 1 or not looks_like_ids(cells):
        told = "these are names: list them in mappings/names.toml, or as aliases of players"
        found["player_id"] = replace(column, names=True).noted(told)


def _names(kind: str, found: dict[str, DraftedColumn], names: set[str]) -> None:
    """Given name and surname of two columns as one name; the year of a day of birth."""
    named = [part for part in ("first_name", "last_name") if part in found]
    parts = [found.pop(part) for part in named]
    target = "alias" if kind == "players" else "player_id"
    if len(parts) == 1 and target == "alias" and target in found and names & {*found[target].sources}:
        parts.insert(0 if named == ["last_name"] else 1, found.pop(target))  # beside a surname, a "name" is the given one
    if parts and target not in found:
        sources = tuple(source for part in parts for source in part.sources)
        found[target] = DraftedColumn(target, sources, all(part.sure for part in parts))
    born = found.pop("birth_date", None)
    if born is not None and "birth_year" not in found:
        found["birth_year"] = replace(born, target="birth_year", cut=r"(\d{4})").noted("the year of the day of birth")


def _arms(headings: list[Heading], found: dict[str, DraftedColumn]) -> None:
    """Arms of a trial that stand in columns of their own, the normal one first."""
    headers = [one.header for one in headings if "arms" in one.meaning.concepts and not set(one.header) & set("{}:")]
    if len(headers) < 2:
        return
    normal = found.get("normal_arm")
    first = [*normal.sources] if normal is not None and normal.sources else []
    sides = "|".join(f"{{{header}}}" for header in [*first, *(header for header in headers if header not in first)])
    found["arms"] = DraftedColumn("arms", template=sides)


def _session(layout: Layout, found: dict[str, DraftedColumn], captures: Captures, kind: str) -> DraftedColumn | None:
    """A session's id: as it stands where it names one session of one player, else made of player, day and what stands there."""
    column = found.get("session_id")
    day = "{day}" if kind == "shots" else "{started_at:%Y-%m-%d}"
    if column is None:
        if "session_id" in captures.names:
            return None
        return DraftedColumn("session_id", template=f"{{player_id}}-{day}").doubted("one session a player and day is a guess")
    name = column.sources[0]
    cells = layout.cells(name)
    if not looks_like_ids(cells) or all(re.fullmatch(r"\d{1,4}", cell) for cell in cells):
        made = DraftedColumn("session_id", template=f"{{player_id}}-{day}-{{{name}}}")
        return made.doubted("the number may begin anew for each player or day")
    player = found.get("player_id")
    if player is not None and player.sources and kind == "shots":
        at, who = layout.header.index(name), layout.header.index(player.sources[0])
        owners = {(row[at], row[who]) for row in layout.rows if row[at]}
        if len(owners) > len({session for session, _ in owners}):
            made = DraftedColumn("session_id", template=f"{{player_id}}-{{{name}}}")
            return made.doubted("the same session stands at several players")
    return column


def _completed(draft: Drafting, found: dict[str, DraftedColumn], captures: Captures) -> dict[str, DraftedColumn]:
    """Times, ids and numbers that have to be made, and a place to fill in for what is required and nowhere."""
    layout, kind = draft.layout, draft.kind
    _names(kind, found, {header for header in layout.header if meaning_of(layout.said(header)).concepts == ("name",)})
    _player(layout, found)
    for target in KINDS[kind].names:
        part = day_of_parts(layout, target, found) if KINDS[kind].column(target).field.kind == "day" else None
        if part is not None:
            found[target] = part
    found.pop("year", None), found.pop("month", None)
    made: dict[str, DraftedColumn] = {}
    if kind in {"shots", "sessions"}:
        target = "struck_at" if kind == "shots" else "started_at"
        made[target] = instant_column(layout, target, found, captures, draft.order)
        session = _session(layout, found, captures, kind)
        if session is not None:
            found["session_id"] = session
    if kind == "shots" and "shot_no" not in found:
        made["shot_no"] = DraftedColumn("shot_no", number_rows=True, why="numbered in the order of the file")
    for target in KINDS[kind].required:
        if target not in found and target not in made and target not in captures.names:
            made[target] = DraftedColumn(target, template="FILL IN").doubted("nothing in the file says it")
    return made | found


def _drafted(layout: Layout, name: str, hints: Hints) -> DraftedMapping | None:
    headings = [heading(layout, header) for header in layout.header]
    kind, kind_sure = (hints.kind, True) if hints.kind else kind_of(layout, headings, name)
    if not kind:
        return None
    decimal, thousands, signs_sure = values.decimal_sign(_all_numbers(layout))
    is_native = sum(one.native for one in headings) >= _NATIVE_SHARE * len(headings)
    headings = _meant(kind, layout, headings)
    draft = Drafting(
        layout,
        kind,
        (decimal, thousands),
        signs_sure,
        [*layout.above, *layout.units],
        units_above(layout.above),
        is_native,
        order_of_days(layout),
    )
    long = long_draft(draft, headings)
    pairs = sided_pairs(draft, headings) if kind == "checkins" else {}
    taken = {header for column in pairs.values() for header in (*column.sources, column.left, column.right)} | set(
        long.headers if long else ()
    )
    best, not_kept, unknown = _best(kind, [one for one in headings if one.header not in taken], hints)
    _by_elimination(layout, kind, best, unknown)
    kind_sure &= bool(hints.kind) or is_native or not may_be_another(layout, kind, best, unknown)
    captures = captures_of(layout.above, name, _wanted(kind, set(best)))
    found = {
        target: drafted_column(draft, target, one)
        if target in KINDS[kind].names and KINDS[kind].column(target).field.kind != "instant"
        else DraftedColumn(target, (one.header,), sure=not one.doubt, why=one.doubt)
        for target, one in best.items()
    }
    if kind == "trials":
        _arms(headings, found)
    if long:
        found |= beside_strangers(draft, long, unknown)
    columns = _completed(draft, {**found, **pairs}, captures)
    if not kind_sure:
        columns = {
            target: column.doubted(f"whether this is a file of {kind} is not beyond doubt") for target, column in columns.items()
        }
    return _proven(draft, columns, captures, long, not_kept, unknown, name)


def _by_elimination(layout: Layout, kind: str, best: dict[str, Heading], unknown: list[str]) -> None:
    """The one column of ids that nothing explains, where one id is required and nowhere: the player's, or the session's own."""
    absent = [target for target in ("player_id", "session_id") if target in KINDS[kind].required and target not in best]
    numbered = [
        header
        for header in unknown
        if _NUMBER.search(layout.said(header))
        and looks_like_ids(layout.cells(header))
        and len(layout.cells(header)) == len(layout.rows)
    ]
    if {"name", "session"} & set(best) or len(absent) != 1 or len(numbered) != 1 or kind == "shots":
        return
    cells = layout.cells(numbered[0])
    is_key = len(set(cells)) == len(cells)
    if is_key == (absent[0] == "session_id" or kind == "players"):
        best[absent[0]] = replace(heading(layout, numbered[0]), doubt="")
        unknown.remove(numbered[0])


def _meant(kind: str, layout: Layout, headings: list[Heading]) -> list[Heading]:
    """What headers mean in a file of this kind: a day of a decision; of a plan, not what was done beside what is planned."""
    if kind == "decisions":
        days = {one.header for one in headings if (cells := layout.cells(one.header)) and all(map(values.looks_dated, cells))}
        decided = Meaning(("decided_on",), ())
        return [
            replace(one, meaning=decided) if one.header in days and one.meaning == Meaning(("decision",), ()) else one
            for one in headings
        ]
    if kind != "plans":
        return headings
    words = {one.header: set(telling(one.text)) for one in headings}
    planned = {header for header, said in words.items() if said & listed_words("planned")}
    done = {header for header, said in words.items() if said & listed_words("done")} - planned
    if not planned or not done:
        return headings
    kept = [one for one in headings if one.header not in done]
    return [replace(one, doubt=one.doubt.removeprefix(f"{SHARED}; ").removeprefix(SHARED)) for one in kept]


def _proven(
    draft: Drafting,
    columns: dict[str, DraftedColumn],
    captures: Captures,
    long: LongDraft | None,
    not_kept: list[str],
    unknown: list[str],
    name: str,
) -> DraftedMapping:
    """The draft, its columns doubted where the file's own rows do not load through it."""
    text = mapping_text(draft, columns, captures, long, not_kept, unknown)
    columns = doubted_by_rows(draft, columns, text, name)
    text = mapping_text(draft, columns, captures, long, not_kept, unknown)
    left_out = tuple(header for header in draft.layout.header if header in {*not_kept, *unknown})
    return DraftedMapping(
        text, draft.kind, tuple(columns.values()), left_out, tuple(unknown), draft.layout.sheet, draft.layout.header
    )


def draft_mappings(path: Path, hints: Hints | None = None) -> tuple[DraftedMapping, ...]:
    """Draft a mapping for every table of an unknown file: one, or one for each sheet.

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
    layouts = layouts_of(data, arrival.ending)
    if not layouts:
        raise IntakeError(f"No table of shots, answers or the like was found in {path}.", "Export it with a row of column names.")
    hints = hints or Hints()
    asked = {*hints.columns.values(), hints.date} - {""}
    absent = {column for column in asked if all(column not in layout.header for layout in layouts)}
    if absent:
        raise IntakeError(f"{path} has no column {', '.join(sorted(absent))}.", f"Its columns: {', '.join(layouts[0].header)}.")
    found = tuple(draft for layout in layouts if (draft := _drafted(layout, path.name, hints)) is not None)
    if not found:
        raise IntakeError(
            f"No column of {path} was understood as a quantity that is kept.",
            "Name its kind with --kind, or write the mapping by hand: `speedworth map --keys`.",
        )
    return found


def draft_mapping(path: Path, hints: Hints | None = None) -> DraftedMapping:
    """The draft for the first table of a file; see :func:`draft_mappings`."""
    return draft_mappings(path, hints)[0]
