"""What cells say of their header, whatever it is called: that it cannot mean what it seems to, or which of two numbers it is."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import replace
from typing import TYPE_CHECKING

from pipelines.stages.intake.draft import values
from pipelines.stages.intake.draft.gloss import glossed
from pipelines.stages.intake.draft.headings import BY_VALUES, heading
from pipelines.stages.intake.draft.letters import bare
from pipelines.stages.intake.draft.lexicon import contained, meaning_of, value_words
from pipelines.stages.intake.draft.targets import PARTS, target_of
from pipelines.stages.intake.draft.vocabulary import VOCABULARY, vocabulary_of
from pipelines.stages.intake.mapping_columns import is_rating
from schemas.files import KINDS
from schemas.units import UNITS

if TYPE_CHECKING:
    from pipelines.stages.intake.draft.headings import Heading
    from pipelines.stages.intake.draft.layout import Layout
    from pipelines.stages.intake.draft.roles import Roles

_MOSTLY = 0.9


def possible_meanings(kind: str, layout: Layout, one: Heading) -> Heading:
    """The heading without meanings that its cells rule out: words are no days or numbers; of several, those that do not fit."""
    cells = layout.cells(one.header)
    if one.native or not cells:
        return one
    left = one.meaning.concepts
    if not any(re.search(r"\d", cell) for cell in cells):
        left = tuple(concept for concept in left if not _needs_digits(target_of(concept, kind), kind))
    in_parts = any("month" in meaning_of(layout.said(header)).concepts for header in layout.header)
    if all(re.fullmatch(r"\d{1,3}", cell) for cell in cells) and not in_parts:
        left = tuple(concept for concept in left if not _is_a_day(target_of(concept, kind), kind))
    is_measured = bool(one.unit) and UNITS[one.unit].quantity == "time"
    if is_measured:  # seconds in the air are no time of day
        left = tuple(concept for concept in left if target_of(concept, kind) != "time")
    if len({target_of(concept, kind) for concept in left} - {""}) > 1 or one.meaning.loose:
        left = tuple(concept for concept in left if _may_be(target_of(concept, kind), kind, cells)) or (
            () if one.meaning.loose else left
        )
    return one if left == one.meaning.concepts else replace(one, meaning=replace(one.meaning, concepts=left))


def _is_a_day(target: str, kind: str) -> bool:
    return target in KINDS[kind].names and KINDS[kind].column(target).field.kind in {"day", "instant"}


def _may_be(target: str, kind: str, cells: list[str]) -> bool:
    """Whether cells can be what a column of ours holds: days, times, numbers, clubs or words of its vocabulary."""
    if not target:
        return False
    form = KINDS[kind].column(target).field.kind if target in KINDS[kind].names else ""
    dated = sum(1 for cell in cells if values.looks_dated(cell) or re.fullmatch(r"1\d{9}(\d{3})?(\.0)?", cell))
    if target == "time":
        dated = sum(1 for cell in cells if re.search(r"\d[:h時]|\d\.\d\d(?!\d)", cell))
    if form in {"day", "instant"} or target in {"date", "time"}:
        return dated >= _MOSTLY * len(cells)
    if form in {"number", "integer"}:
        return values.is_numeric(cells) >= _MOSTLY and dated < _MOSTLY * len(cells)
    if target in {"club", "region"}:
        return bool(values.clubs_in(cells)) if target == "club" else any(contained(cell, "values", "region")[0] for cell in cells)
    if (kind, target) in VOCABULARY:
        return bool(value_words(VOCABULARY[kind, target], cells)[0])
    return dated < _MOSTLY * len(cells)


def _needs_digits(target: str, kind: str) -> bool:
    if target in KINDS[kind].names:
        quantity = KINDS[kind].column(target).field
        return quantity.kind in {"day", "instant", "number", "integer"} and not is_rating(quantity)
    return target in PARTS - {"first_name", "last_name"}


def find_by_values(layout: Layout, kind: str, roles: Roles) -> None:
    """Columns that nothing explains, and all of whose words are of one of our vocabularies: never beyond doubt."""
    _find_the_day(layout, kind, roles)
    for header in list(roles.unknown):
        target = vocabulary_of(kind, layout.cells(header), set(roles.best))
        if target:
            roles.best[target] = replace(heading(layout, header), doubt=BY_VALUES)
            roles.unknown.remove(header)


def _find_the_day(layout: Layout, kind: str, roles: Roles) -> None:
    """The one column of days that nothing explains, where no other is: beyond doubt only below a word such as "on"."""
    target = target_of("date", kind)
    whole = {target, *(name for name in ("struck_at", "started_at") if name in KINDS[kind].names)}
    are_clocks = all(values.clock_form(layout.cells(roles.best[name].header)) for name in whole & set(roles.best))
    dated = [name for name in roles.unknown if layout.is_dated(name) and not values.clock_form(layout.cells(name))]
    if not target or target.startswith("week_") or not are_clocks or len(dated) != 1:
        return
    said = bare(layout.name_alone(dated[0])).split()
    is_said = bool(said) and all("idle" in piece.words for piece in glossed(said))
    roles.best[target] = replace(heading(layout, dated[0]), doubt="" if is_said else BY_VALUES)
    roles.unknown.remove(dated[0])


def tell_rounds_apart(layout: Layout, roles: Roles) -> None:
    """Whether a number of a round counts on its day or in its event: as the rows show it, else it is asked."""
    best = roles.best
    one = best.get("round_no")
    if one is None or one.native or "event_round" in best:
        return
    numbers = _numbers_by_day(layout, best, one.header)
    if any("1" not in told for told in numbers):  # a day that begins with the second round: of more than the day
        best["event_round"] = best.pop("round_no")
    elif "event" in best or not any(len(told) > 1 for told in numbers):
        best["round_no"] = replace(one, doubt=one.doubt or "it could also be event_round")


def _numbers_by_day(layout: Layout, best: dict[str, Heading], header: str) -> list[set[str]]:
    """The numbers of the rounds of each player on each day."""
    places = [layout.header.index(best[target].header) for target in ("player_id", "played_on") if target in best]
    at = layout.header.index(header)
    found: dict[tuple[str, ...], set[str]] = defaultdict(set)
    for row in layout.rows if len(places) == 2 else ():
        if row[at]:
            found[tuple(row[place] for place in places)].add(row[at])
    return list(found.values())


def doubt_what_is_second(layout: Layout, roles: Roles) -> None:
    """Answers that were sent on a day are not of that day where the file has another."""
    one = roles.best.get("date")
    if one is None or "sent" not in one.meaning.concepts or one.doubt:
        return
    dated = [header for header in layout.header if layout.is_dated(header)]
    if len(dated) > 1:
        roles.best["date"] = replace(one, doubt=f"{next(name for name in dated if name != one.header)} could be it too")
