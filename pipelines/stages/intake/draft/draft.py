"""A drafted mapping for an unknown file: its text, and how sure each column is."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from pipelines.stages.intake import disk
from pipelines.stages.intake.discover import one_file
from pipelines.stages.intake.draft import values
from pipelines.stages.intake.draft.captures import Captures, captures_of, units_above
from pipelines.stages.intake.draft.columns import drafted_column, looks_like_ids
from pipelines.stages.intake.draft.drafted import DraftedColumn, Drafting
from pipelines.stages.intake.draft.earned import confirm_by_values
from pipelines.stages.intake.draft.evidence import doubt_what_is_second, find_by_values, possible_meanings, tell_rounds_apart
from pipelines.stages.intake.draft.gloss import glossed
from pipelines.stages.intake.draft.headings import PLANNED, SHARED, Heading, heading
from pipelines.stages.intake.draft.hints import TOGETHER, Hints
from pipelines.stages.intake.draft.kinds import kind_of, lacks_much, may_be_another
from pipelines.stages.intake.draft.layout import Layout, layouts_of
from pipelines.stages.intake.draft.letters import bare
from pipelines.stages.intake.draft.lexicon import Meaning, listed_words, meaning_of
from pipelines.stages.intake.draft.proof import doubted_by_rows
from pipelines.stages.intake.draft.roles import Roles, find_by_elimination, roles_as_told, roles_by_meaning
from pipelines.stages.intake.draft.times import day_of_parts, instant_column, order_of_days
from pipelines.stages.intake.draft.wide import LongDraft, beside_strangers, long_draft, sided_pairs
from pipelines.stages.intake.draft.write import mapping_text
from schemas.errors import IntakeError
from schemas.files import KINDS

if TYPE_CHECKING:
    from pathlib import Path

_NATIVE_SHARE, _MOST_CELLS = 0.6, 3


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
    roles : dict
        Every column of the file to what it is taken for, as in ``Hints``.
    cells : dict
        Column of the file to some of its values.
    signs : tuple of str
        Decimal sign and sign between thousands.
    order : str
        ``dmy`` or ``mdy`` where days are read in one of these orders by what the file shows, or as somebody said.
    """

    text: str
    kind: str
    columns: tuple[DraftedColumn, ...]
    left_out: tuple[str, ...]
    not_understood: tuple[str, ...]
    sheet: str = ""
    header: tuple[str, ...] = ()
    roles: dict[str, str] = field(default_factory=dict)
    cells: dict[str, tuple[str, ...]] = field(default_factory=dict)
    signs: tuple[str, str] = (".", "")
    order: str = ""


def _all_numbers(layout: Layout) -> list[str]:
    return [cell for row in layout.rows for cell in row if values.is_numeric([cell]) and not values.looks_dated(cell)]


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
    named = [one for one in headings if one.header in headers and not all(word.isdigit() for word in one.meaning.left or ("",))]
    doubts = [one.doubt for one in named if one.doubt not in {"", SHARED}]
    found["arms"] = DraftedColumn("arms", template=sides, sure=not doubts, why=next(iter(doubts), ""))


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


def _drafting(layout: Layout, kind: str, headings: list[Heading], hints: Hints) -> Drafting:
    """What all columns of the table share, as the file shows it or as somebody said."""
    decimal, thousands, signs_sure = values.decimal_sign(_all_numbers(layout))
    if hints.decimal and hints.decimal != decimal:
        decimal, thousands = hints.decimal, ""
    return Drafting(
        layout,
        kind,
        (decimal, thousands),
        signs_sure or bool(hints.decimal),
        [*layout.above, *layout.units],
        units_above(layout.above),
        sum(one.native for one in headings) >= _NATIVE_SHARE * len(headings),
        hints.order or order_of_days(layout),
        hints.sessions,
    )


def _drafted(layout: Layout, name: str, hints: Hints) -> DraftedMapping | None:
    headings = [heading(layout, header) for header in layout.header]
    kind, kind_sure = (hints.kind, True) if hints.kind else kind_of(layout, headings, name)
    if not kind:
        return None
    draft = _drafting(layout, kind, headings, hints)
    if not hints.roles:
        headings = [possible_meanings(kind, layout, one) for one in _meant(kind, layout, headings)]
    together = [one for one in headings if not hints.roles or hints.roles.get(one.header) == TOGETHER]
    long = long_draft(draft, together)
    pairs = sided_pairs(draft, together) if kind == "checkins" else {}
    taken = {header for column in pairs.values() for header in (*column.sources, column.left, column.right)} | set(
        long.headers if long else ()
    )
    apart = [_beside(one, long) for one in headings if one.header not in taken]
    roles = roles_as_told(kind, apart, hints) if hints.roles else roles_by_meaning(kind, apart, hints)
    if not hints.roles:
        find_by_elimination(layout, kind, roles)
        tell_rounds_apart(layout, roles)
        find_by_values(layout, kind, roles)
        doubt_what_is_second(layout, roles)
        confirm_by_values(layout, kind, roles)
        kind_sure &= bool(hints.kind) or draft.is_native or not may_be_another(layout, kind, roles, taken)
    captures = captures_of(layout.above, name, _wanted(kind, {*roles.best, *hints.values}))
    found = {
        target: drafted_column(draft, target, one)
        if target in KINDS[kind].names and KINDS[kind].column(target).field.kind != "instant"
        else DraftedColumn(target, (one.header,), sure=not one.doubt, why=one.doubt)
        for target, one in roles.best.items()
    }
    if kind == "trials":
        _arms(headings, found)
    if long:
        found |= beside_strangers(draft, long, [] if hints.roles else roles.unknown)
    found |= {target: DraftedColumn(target, template=value) for target, value in hints.values.items()}
    columns = _completed(draft, {**found, **pairs}, captures)
    absent = [target for target in KINDS[kind].required if target in columns and columns[target].template == "FILL IN"]
    kind_sure &= bool(hints.kind) or not lacks_much(kind, roles, absent)
    if not kind_sure:
        columns = {
            target: column.doubted(f"whether this is a file of {kind} is not beyond doubt") for target, column in columns.items()
        }
    return _proven(draft, columns, captures, (long, taken), roles, name)


def _beside(one: Heading, long: LongDraft | None) -> Heading:
    """A heading that does not mean what other columns together say of every row."""
    is_said = long is not None and not one.native and bool(set(one.meaning.concepts) & set(long.columns))
    return replace(one, meaning=Meaning((), one.meaning.left)) if is_said else one


def _all_words(one: Heading) -> list[str]:
    """The words of a header, those in its brackets too."""
    return bare(re.sub(r"[\[\](){}（）【】]", " ", one.text)).split()


def _says(one: Heading, what: str) -> bool:
    """Whether a header says that something was planned, or done: in its brackets too."""
    said = _all_words(one)
    return bool(set(said) & listed_words(what)) or any(what in piece.words for piece in glossed(said))


def _is_planned(kind: str, one: Heading) -> bool:
    """Whether a header of what was done says that it was planned; of shots, a target may be where the ball was to go."""
    planned = (piece for piece in glossed(_all_words(one)) if "planned" in piece.words)
    return not one.native and any(not (kind == "shots" and "target" in piece.words) for piece in planned)


def _meant(kind: str, layout: Layout, headings: list[Heading]) -> list[Heading]:
    """What headers mean in a file of this kind: a day of a decision; of a plan, not what was done beside what is planned."""
    if kind == "decisions":
        days = {one.header for one in headings if layout.is_dated(one.header)}
        return [
            replace(one, meaning=replace(one.meaning, concepts=("decided_on",)))
            if one.header in days and "decision" in one.meaning.concepts
            else one
            for one in headings
        ]
    if kind != "plans":
        return [replace(one, doubt=PLANNED) if _is_planned(kind, one) else one for one in headings]
    planned, done = ({one.header for one in headings if _says(one, what)} for what in ("planned", "done"))
    done -= planned
    if not planned:
        return [replace(one, doubt=one.doubt or PLANNED) if one.header in done else one for one in headings]
    kept = [one for one in headings if one.header not in done]
    return [replace(one, doubt=one.doubt.removeprefix(f"{SHARED}; ").removeprefix(SHARED)) for one in kept]


def _proven(
    draft: Drafting,
    columns: dict[str, DraftedColumn],
    captures: Captures,
    wide: tuple[LongDraft | None, set[str]],
    roles: Roles,
    name: str,
) -> DraftedMapping:
    """The draft, its columns doubted where the file's own rows do not load through it."""
    (long, taken), layout = wide, draft.layout
    text = mapping_text(draft, columns, captures, long, roles.not_kept, roles.unknown)
    columns = doubted_by_rows(draft, columns, text, name)
    text = mapping_text(draft, columns, captures, long, roles.not_kept, roles.unknown)
    return DraftedMapping(
        text,
        draft.kind,
        tuple(columns.values()),
        tuple(header for header in layout.header if header in {*roles.not_kept, *roles.unknown}),
        tuple(roles.unknown),
        layout.sheet,
        layout.header,
        roles.by_header(taken, layout.header),
        {header: tuple(dict.fromkeys(layout.cells(header)))[:_MOST_CELLS] for header in layout.header},
        draft.signs,
        draft.order,
    )


def draft_mappings(path: Path, hints: Hints | None = None, name: str = "") -> tuple[DraftedMapping, ...]:
    """Draft a mapping for every table of an unknown file: one, or one for each sheet, small ones beside it last.

    Parameters
    ----------
    path : Path
    hints : Hints, optional
    name : str
        What the file was called when it was dropped, where it lies under another name.

    Raises
    ------
    IntakeError
        When the file cannot be read, or nothing in it is understood.
    """
    name, hints = name or path.name, hints or Hints()
    layouts = [layout for layout in _layouts(path, name) if not hints.sheet or layout.sheet == hints.sheet]
    if not layouts:
        raise IntakeError(f"No table of shots, answers or the like was found in {name}.", "Export it with a row of column names.")
    asked = {*hints.columns.values(), hints.date} - {""}
    absent = {column for column in asked if all(column not in layout.header for layout in layouts)}
    if absent:
        raise IntakeError(f"{name} has no column {', '.join(sorted(absent))}.", f"Its columns: {', '.join(layouts[0].header)}.")
    found = tuple(draft for layout in layouts if (draft := _drafted(layout, name, hints)) is not None)
    most = max((_understood(draft) for draft in found), default=0)
    found = tuple(sorted(found, key=lambda draft: 2 * _understood(draft) < most))
    if not found:
        raise IntakeError(
            f"No column of {name} was understood as a quantity that is kept.",
            "Name its kind with --kind, or write the mapping by hand: `speedworth map --keys`.",
        )
    return found


def _understood(draft: DraftedMapping) -> int:
    """How many columns of a table are columns of ours."""
    return sum(bool(role) for role in draft.roles.values())


def _layouts(path: Path, name: str) -> list[Layout]:
    try:
        arrival = one_file(path)
    except OSError as fault:
        raise IntakeError(f"There is no file {path}.", "Check the path.") from fault
    data = disk.content(arrival)
    if isinstance(data, str):
        raise IntakeError(f"The file {path} cannot be read ({data}).", "Check its permissions, and that it is a file.")
    return layouts_of(data, replace(arrival, name=name).ending)


def draft_mapping(path: Path, hints: Hints | None = None) -> DraftedMapping:
    """The draft for the first table of a file; see :func:`draft_mappings`."""
    return draft_mappings(path, hints)[0]
