"""What cells say of their header, whatever it is called: that it cannot mean what it seems to, or which of two numbers it is."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import replace
from typing import TYPE_CHECKING

from pipelines.stages.intake.draft.headings import heading
from pipelines.stages.intake.draft.lexicon import Meaning
from pipelines.stages.intake.draft.targets import PARTS, target_of
from pipelines.stages.intake.draft.vocabulary import vocabulary_of
from schemas.files import KINDS

if TYPE_CHECKING:
    from pipelines.stages.intake.draft.headings import Heading
    from pipelines.stages.intake.draft.layout import Layout
    from pipelines.stages.intake.draft.roles import Roles

BY_VALUES = "what stands in it says so, its name does not"


def possible_meanings(kind: str, layout: Layout, one: Heading) -> Heading:
    """The heading without meanings that its cells rule out: words are no days, times or numbers."""
    cells = layout.cells(one.header)
    if one.native or not cells or any(re.search(r"\d", cell) for cell in cells):
        return one
    left = tuple(concept for concept in one.meaning.concepts if not _needs_digits(target_of(concept, kind), kind))
    return one if left == one.meaning.concepts else replace(one, meaning=Meaning(left, one.meaning.left))


def _needs_digits(target: str, kind: str) -> bool:
    if target in KINDS[kind].names:
        return KINDS[kind].column(target).field.kind in {"day", "instant", "number", "integer"}
    return target in PARTS - {"first_name", "last_name"}


def find_by_values(layout: Layout, kind: str, roles: Roles) -> None:
    """Columns that nothing explains, and all of whose words are of one of our vocabularies: never beyond doubt."""
    for header in list(roles.unknown):
        target = vocabulary_of(kind, layout.cells(header), set(roles.best))
        if target:
            roles.best[target] = replace(heading(layout, header), doubt=BY_VALUES)
            roles.unknown.remove(header)


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
