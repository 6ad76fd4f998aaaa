"""What cells confirm of a header that says more than a name of ours, or something near it: then it is sure after all.

It takes words or ids that nothing else could be, and no other column of the file that has them too.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from pipelines.stages.intake.draft import values
from pipelines.stages.intake.draft.body_parts import body_part
from pipelines.stages.intake.draft.columns import looks_like_ids
from pipelines.stages.intake.draft.gloss import glossed, is_japanese, pieces_in
from pipelines.stages.intake.draft.headings import SAYS_MORE, SAYS_NEAR
from pipelines.stages.intake.draft.letters import bare
from pipelines.stages.intake.draft.lexicon import listed_words, value_words
from pipelines.stages.intake.draft.vocabulary import VOCABULARY
from schemas.files import KINDS
from schemas.units import UNITS

if TYPE_CHECKING:
    from collections.abc import Callable

    from pipelines.stages.intake.draft.headings import Heading
    from pipelines.stages.intake.draft.layout import Layout
    from pipelines.stages.intake.draft.roles import Roles

_FIRST_DAYS = {
    "date", "struck_at", "started_at", "played_on", "began_on", "decided_on", "changed_on",
}  # fmt: skip
"""The day that a row is about; any other day of a row is another."""
_IDS = frozenset({"player_id", "session_id"})
_WEEKDAY = {"week_ending": 7, "week_starting": 1}
_BESIDE = frozenset({
    "player", "session", "training", "club", "ball", "swing", "shot", "test", "measured", "answered", "day", "date", "time",
    "clock", "who", "name", "number", "kind", "what", "academy", "event", "round", "course", "body", "region", "trial", "moment",
    "activity", "visit", "absence", "decision", "flag", "role", "idle", "played",
})  # fmt: skip
"""What may stand in a header beside what it means, where its cells confirm that."""
_OF_THE_PLACE = frozenset({"idle", "number", "measured", "atmospheric", "air", "course", "device", "indoor"})
"""What may stand beside a quantity that its unit tells from all others."""


def confirm_by_values(layout: Layout, kind: str, roles: Roles) -> None:
    """Let go of doubts about the words of a header where its cells leave no other reading."""
    for target, one in list(roles.best.items()):
        doubts = [doubt for doubt in one.doubt.split("; ") if doubt not in {SAYS_MORE, SAYS_NEAR}]
        if one.doubt and not doubts and _is_confirmed(layout, kind, roles, target, one):
            roles.best[target] = replace(one, doubt="")


def _is_confirmed(layout: Layout, kind: str, roles: Roles, target: str, one: Heading) -> bool:
    cells = layout.cells(one.header)
    if not cells or _says_changing(one.text):
        return False
    if target in {"club", "region"} or VOCABULARY.get((kind, target), "truth") != "truth":
        are = _test_of(kind, target)
        others = [layout.cells(header) for header in layout.header if header != one.header]
        return (target == "club" or _only_beside(one, _BESIDE)) and are(cells) and not any(told and are(told) for told in others)
    if not _only_beside(one, _BESIDE):
        return False
    strangers = _strangers(roles, target)
    if target in _FIRST_DAYS | {"time"} or target in _WEEKDAY:
        is_of_a_booking = any("session" in piece.loose for piece in pieces_in(layout.name_alone(one.header)))
        return not is_of_a_booking and _is_the_day(layout, target, cells, strangers)
    if target in _IDS:
        return _is_the_id(layout, kind, roles, target, strangers)
    return _only_beside(one, _OF_THE_PLACE) and _has_its_unit_alone(layout, kind, target, one)


def _says_changing(text: str) -> bool:
    """Whether a header has a word that makes another of a quantity; Japanese does not set its words apart."""
    said, listed = bare(text), listed_words("changing")
    return bool(set(said.split()) & listed) or any(word in said for word in listed if is_japanese(word))


def _test_of(kind: str, target: str) -> Callable[[list[str]], bool]:
    """Whether all cells are clubs, regions, or words of one of our vocabularies."""
    if target == "club":
        return _are_clubs
    return _are_regions if target == "region" else partial(_are_words, VOCABULARY[kind, target])


def _strangers(roles: Roles, target: str) -> list[str]:
    """Headers that nothing explains for certain."""
    own = roles.best[target].header
    ids = {roles.best[role].header for role in _IDS if role in roles.best} if target in _IDS else set()
    doubted = [one.header for role, one in roles.best.items() if one.doubt and role != target]
    return [header for header in (*roles.unknown, *doubted) if header != own and header not in ids]


def _only_beside(one: Heading, beside: frozenset[str]) -> bool:
    """Whether all that a header says more is understood, and makes no other quantity of it."""
    left = glossed(list(one.meaning.left))
    return all(piece.words & beside for piece in left)


def _are_clubs(cells: list[str]) -> bool:
    distinct = list(dict.fromkeys(cells))
    found = values.clubs_in(distinct)
    return found is not None and len(found) == len(distinct)


def _are_regions(cells: list[str]) -> bool:
    return all(map(body_part, cells))


def _are_words(name: str, cells: list[str]) -> bool:
    distinct = set(cells)
    return len(distinct) > 1 and not any(re.search(r"\d", cell) for cell in distinct) and value_words(name, cells)[1]


def _is_the_day(layout: Layout, target: str, cells: list[str], strangers: list[str]) -> bool:
    """The only day that is not explained otherwise; of weeks, one that is what their first or last day must be."""
    if not all(map(values.looks_dated, cells)) and not all(re.fullmatch(r"\d{4}-W\d\d|1\d{9}(\d{3})?", cell) for cell in cells):
        return False
    if target in _WEEKDAY and not all(re.fullmatch(r"\d{4}-W\d\d", cell) for cell in cells):
        days = values.days_of(cells)
        if days is None or {day.isoweekday() for day in days} != {_WEEKDAY[target]}:
            return False
    return not any(map(layout.is_dated, strangers))


def _is_the_id(layout: Layout, kind: str, roles: Roles, target: str, strangers: list[str]) -> bool:
    """Ids that go with the rows as this one must, and no other column of ids that nothing explains."""
    cells = layout.cells(roles.best[target].header)
    if target not in KINDS[kind].names or not _are_ids(cells, len(layout.rows)):
        return False
    others = (layout.cells(header) for header in strangers)
    if any(_are_ids(told, len(layout.rows)) and not _are_clubs(told) for told in others):
        return False
    is_key = len(set(cells)) == len(cells)
    if target == "player_id":
        return is_key if kind == "players" else not is_key
    if kind == "sessions":
        return is_key
    player = roles.best.get("player_id")
    return not is_key and (player is None or len(set(zip(cells, layout.cells(player.header), strict=False))) == len(set(cells)))


def _are_ids(cells: list[str], rows: int) -> bool:
    """Whether every row has an id with a letter in it, and none is a day."""
    return (
        len(cells) == rows
        and looks_like_ids(cells)
        and any(re.search(r"[^\W\d_]", cell) for cell in cells)
        and not any(map(values.looks_dated, cells))
    )


def _has_its_unit_alone(layout: Layout, kind: str, target: str, one: Heading) -> bool:
    """A unit of which this kind of file has one quantity, and the file one column."""
    if not one.unit or target not in KINDS[kind].names:
        return False
    measures = UNITS[one.unit].quantity
    of_kind = [
        column.name for column in KINDS[kind].columns if column.field.unit and UNITS[column.field.unit].quantity == measures
    ]
    return of_kind == [target] and sum(1 for header in layout.header if layout.measures(header) == measures) == 1
