"""Of which kind an unknown file is, by its headers, its name and its rows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipelines.stages.intake.draft.lexicon import contained, meaning_of
from pipelines.stages.intake.draft.targets import kinds_by_score
from pipelines.stages.intake.draft.wide import QUESTIONS
from schemas.files import KINDS

if TYPE_CHECKING:
    from pipelines.stages.intake.draft.headings import Heading
    from pipelines.stages.intake.draft.layout import Layout
    from pipelines.stages.intake.draft.roles import Roles

_CLOSE = 0.5
_PLENTY = 4
"""So many columns that no other kind has are no chance."""


def kind_of(layout: Layout, headings: list[Heading], name: str) -> tuple[str, bool]:
    """Kind of file, and whether no other fits about as well; empty when none does."""
    regions = [_asks(one) for one in headings if one.part is not None and not one.native]
    concepts = [one.meaning.concepts for one in headings if len(one.meaning.left) <= 1]
    ranked = kinds_by_score(
        concepts,
        (len(regions) - regions.count("problems"), len(regions) - regions.count("checkins")),
        _tests(headings),
        f"{name.rsplit('.', 1)[0]} {layout.sheet}",
    )
    if not ranked:
        return "", False
    return ranked[0][1], len(ranked) == 1 or ranked[0][0] - ranked[1][0] > _CLOSE


def may_be_another(layout: Layout, kind: str, roles: Roles, together: set[str]) -> bool:
    """Half of the columns or more are strange, or a list of players has one twice: another kind may have such words too."""
    player = roles.best.get("player_id")
    cells = layout.cells(player.header) if player is not None else []
    is_list = kind != "players" or len(set(cells)) == len(cells)
    only_here = [target for target, one in roles.best.items() if not one.doubt and _is_only_in(target, kind)]
    is_strange = len(roles.unknown) >= len(roles.best) + len(together) and len(only_here) < _PLENTY
    return not is_list or is_strange


def lacks_much(kind: str, roles: Roles, absent: list[str]) -> bool:
    """Whether half of what a kind requires is nowhere, and no column of its own shows it: a list of clubs."""
    shown = [target for target, one in roles.best.items() if target != "club" and not one.doubt and _is_only_in(target, kind)]
    return not shown and len(absent) >= min(2, len(KINDS[kind].required) / 2)


def _is_only_in(target: str, kind: str) -> bool:
    """Whether no other kind of file has such a column."""
    return [name for name, file in KINDS.items() if target in file.names] == [kind]


def _tests(headings: list[Heading]) -> int:
    return sum(1 for one in headings if not one.native and contained(one.text, "values", "test")[0])


def _asks(one: Heading) -> str:
    """The kind of file that asks what a header says beside a region; empty when it says nothing else."""
    said = meaning_of(" ".join(one.part.left_over)).concepts if one.part is not None and one.part.left_over else ()
    return "checkins" if "stiff" in said else "problems" if set(said) & set(QUESTIONS) else ""
