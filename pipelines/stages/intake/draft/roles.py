"""Which column of ours, or which part of one, each header of a file is: by what it means, or as somebody has said."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from pipelines.stages.intake.draft.columns import looks_like_ids
from pipelines.stages.intake.draft.gloss import pieces_in
from pipelines.stages.intake.draft.headings import BY_VALUES, NEAR, SAYS_MORE, SAYS_NEAR, Heading, heading
from pipelines.stages.intake.draft.hints import TOGETHER, Hints
from pipelines.stages.intake.draft.lexicon import listed_words
from pipelines.stages.intake.draft.targets import NOT_KEPT, PARTS, target_of
from pipelines.stages.intake.draft.values import looks_dated
from schemas.files import KINDS
from schemas.units import UNITS

if TYPE_CHECKING:
    from pipelines.stages.intake.draft.layout import Layout

_NUMBER = re.compile(r"(?:^|[\W_])(?:no|nr|num|number|id|nummer|numero|número|n[.º°]+)(?:$|[\W_])", re.IGNORECASE)

_SECOND_BEST = frozenset({"name", "sent", *NEAR})
"""What is taken for a column of ours only where nothing else is."""

_SHOWN_BY_VALUES = frozenset({"session_id", "player_id", "trial_id", "club", "kind"})
"""What a word may name in a kind of file where its first meaning has no place: what stands in the column has to show it."""


@dataclass
class Roles:
    """What the headers of a file are.

    Attributes
    ----------
    best : dict
        Column of ours, or part of one, to its heading.
    not_kept : list of str
        Headers that name something known that is not kept.
    unknown : list of str
        Headers that nothing explains.
    """

    best: dict[str, Heading]
    not_kept: list[str]
    unknown: list[str]

    def by_header(self, together: set[str], header: tuple[str, ...]) -> dict[str, str]:
        """Every header to what it is; empty: it is left out."""
        found = {one.header: target for target, one in self.best.items()}
        return {name: TOGETHER if name in together else found.get(name, "") for name in header}


def possible_roles(kind: str) -> tuple[str, ...]:
    """What a header of a file of this kind may be: a column of ours, or a part of one."""
    parts = sorted(part for part in PARTS if target_of(part, kind) == part and part not in KINDS[kind].names)
    days = any(column.field.kind == "day" for column in KINDS[kind].columns)
    return (*KINDS[kind].names, *(part for part in parts if days or part not in {"year", "month"}))


def roles_by_meaning(kind: str, headings: list[Heading], hints: Hints) -> Roles:
    """What headers mean, each column of ours at most once."""
    told = {header: target for target, header in hints.columns.items()}
    told |= {hints.date: target_of("timestamp", kind) or target_of("date", kind)} if hints.date else {}
    roles = Roles({}, [], [])
    for header in sorted(headings, key=lambda one: (one.header not in told, *_rank(one))):
        is_told = header.header in told
        one, targets = (header, [told[header.header]]) if is_told else _possible(kind, header)
        free = [target for target in targets if target not in roles.best]
        if free:
            roles.best[free[0]] = replace(one, doubt="" if is_told else _doubt(kind, one, targets, free[0]))
        elif set(one.meaning.concepts) & set(NOT_KEPT) and not one.meaning.left:
            roles.not_kept.append(one.header)
        else:
            if targets and not one.meaning.left and not _SECOND_BEST & set(one.meaning.concepts):
                first = roles.best[targets[0]]
                roles.best[targets[0]] = replace(first, doubt=first.doubt or _second(first, one))
            roles.unknown.append(one.header)
    order = [one.header for one in headings]
    return Roles(roles.best, sorted(roles.not_kept, key=order.index), sorted(roles.unknown, key=order.index))


def _rank(one: Heading) -> tuple[bool | int, ...]:
    """In which order headers take their columns: the plainest first."""
    return not one.native, len(one.meaning.left), not one.unit, bool(_SECOND_BEST & set(one.meaning.concepts))


def _possible(kind: str, one: Heading) -> tuple[Heading, list[str]]:
    """The columns that a header may be: by its meaning, without its group, or where its values must show it (with that doubt)."""
    targets = [target_of(concept, kind) for concept in one.meaning.concepts] if len(one.meaning.left) <= 1 else []
    if not any(targets):
        targets = [target_of(concept, kind) for concept in one.alone]
    if not any(targets) and not set(one.meaning.concepts) & set(NOT_KEPT):
        targets = [target for concept in one.meaning.also if (target := target_of(concept, kind)) in _SHOWN_BY_VALUES]
        one = replace(one, doubt=one.doubt or SAYS_NEAR) if targets else one
    targets = list(dict.fromkeys(target for target in targets if target))
    if len(targets) > 1 and one.unit:  # wind in km/h is no direction
        targets = [target for target in targets if _has_unit(kind, target, one.unit)] or targets
    return one, targets


def _doubt(kind: str, one: Heading, targets: list[str], taken: str) -> str:
    """Why it is not beyond doubt that a header is the column that it takes."""
    if len(targets) == 1:
        return _without_planned(kind, one)
    return f"it could also be {' or '.join(target for target in targets if target != taken)}"


def roles_as_told(kind: str, headings: list[Heading], hints: Hints) -> Roles:
    """What somebody says that each header is; of a header that means the same by itself the doubt stays."""
    meant = roles_by_meaning(kind, headings, Hints())
    roles = Roles({}, meant.not_kept, [])
    for one in headings:
        role = hints.roles.get(one.header, "")
        if role and role != TOGETHER:
            own = meant.best.get(role)
            roles.best[role] = hints.told(own if own is not None and own.header == one.header else replace(one, doubt=""))
        elif one.header not in meant.not_kept:
            roles.unknown.append(one.header)
    taken = {one.header for one in roles.best.values()}
    roles.not_kept = [header for header in meant.not_kept if header not in taken]
    return roles


def _has_unit(kind: str, target: str, unit: str) -> bool:
    own = KINDS[kind].column(target).field.unit if target in KINDS[kind].names else ""
    return bool(own) and unit in UNITS and UNITS[own].quantity == UNITS[unit].quantity


def _without_planned(kind: str, one: Heading) -> str:
    """The doubt of a header, none where all that a plan's header says more is that it is planned."""
    says_planned = kind == "plans" and one.doubt == SAYS_MORE and not set(one.meaning.left) - listed_words("planned")
    return "" if says_planned else one.doubt


def _second(first: Heading, other: Heading) -> str:
    return "" if first.native and not other.native else f"{other.header} could be it too"


def _is_own_id(layout: Layout, header: str) -> bool:
    return all("number" in piece.words for piece in pieces_in(layout.name_alone(header)))


def find_by_elimination(layout: Layout, kind: str, roles: Roles) -> None:
    """The one column of ids that nothing explains, where one id is required and nowhere: the player's, or the session's own."""
    best = roles.best
    absent = [target for target in ("player_id", "session_id") if target in KINDS[kind].required and target not in best]
    ids = [
        header
        for header in roles.unknown
        if looks_like_ids(layout.cells(header))
        and len(layout.cells(header)) == len(layout.rows)
        and not any(map(looks_dated, layout.cells(header)))
    ]
    numbered = [header for header in ids if _NUMBER.search(layout.said(header)) or _is_own_id(layout, header)]
    numbered = numbered or [header for header in ids if any(re.search(r"[^\W\d_]", cell) for cell in layout.cells(header))]
    if {"name", "session"} & set(best) or len(absent) != 1 or len(numbered) != 1 or kind == "shots":
        return
    cells = layout.cells(numbered[0])
    is_key = len(set(cells)) == len(cells)
    if is_key == (absent[0] == "session_id" or kind == "players"):
        said = [piece for piece in pieces_in(layout.name_alone(numbered[0])) if "number" not in piece.words]
        is_said = not said or any(absent[0].removesuffix("_id") in piece.words for piece in said)
        best[absent[0]] = replace(heading(layout, numbered[0]), doubt="" if is_said else BY_VALUES)
        roles.unknown.remove(numbered[0])
