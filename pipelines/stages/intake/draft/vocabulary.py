"""Columns of words: what each word of the file means in ours, as it was understood or as somebody has said."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

from pipelines.stages.intake.draft import values
from pipelines.stages.intake.draft.body_parts import BodyPart, body_part
from pipelines.stages.intake.draft.lexicon import value_words

if TYPE_CHECKING:
    from pipelines.stages.intake.draft.drafted import DraftedColumn, Drafting
    from pipelines.stages.intake.draft.headings import Heading

VOCABULARY = {
    ("players", "handed"): "handed", ("players", "sex"): "sex", ("players", "health_consent"): "truth",
    ("sessions", "kind"): "session_kind", ("sessions", "ball"): "ball", ("sessions", "indoors"): "truth",
    ("shots", "counts"): "truth", ("absences", "kind"): "absence_kind", ("absences", "onset"): "onset",
    ("problems", "onset"): "onset", ("mobility", "test"): "test", ("mobility", "side"): "side",
    ("trials", "end_rule"): "end_rule", ("decisions", "role"): "role", ("decisions", "decision"): "decision",
}  # fmt: skip
"""Columns of words, and which list of values says what they mean."""
_SHORTEST_WORD = 3


def word_column(draft: Drafting, column: DraftedColumn, heading: Heading, cells: list[str]) -> DraftedColumn:
    """A column of one of our vocabularies."""
    found, all_known = value_words(VOCABULARY[draft.kind, column.target], cells)
    if heading.meaning.concepts and "warm_up" in heading.meaning.concepts:
        found = {cell: "false" if meaning == "true" else "true" for cell, meaning in found.items()}
    found, all_told = _with_told(found, heading, cells)
    by_hand = column.target == "side" and bool({"left", "right"} & set(found.values()))
    column = replace(_with_words(column, found, cells), by_hand=by_hand)
    if draft.kind == "shots" and column.target == "counts" and set(found.values()) == {"false"}:
        column = column.doubted("no shot would count")
    is_known = (all_known and not column.strange) or all_told
    return column if is_known else column.doubted("some words were not understood, or could mean something else")


def region_column(column: DraftedColumn, heading: Heading, cells: list[str]) -> DraftedColumn:
    """A column of regions of the body."""
    found: dict[str, str] = {}
    for cell in dict.fromkeys(cells):
        part = body_part(cell) or (
            BodyPart(cell.split("_", 1)[-1], cell.split("_")[0], ()) if cell.startswith(("lead_", "trail_")) else None
        )
        if part is not None and part.word and not part.left_over:
            found[cell] = part.word
    found, _ = _with_told(found, heading, cells)
    by_hand = any(word.startswith(("left_", "right_")) for word in found.values())
    column = replace(_with_words(column, found, cells), by_hand=by_hand)
    return column.doubted("some regions were not understood") if column.strange else column


def club_column(column: DraftedColumn, heading: Heading, cells: list[str]) -> DraftedColumn:
    """A column of clubs."""
    read = values.clubs_in(list(dict.fromkeys(cells)))
    found, _ = _with_told(read or {}, heading, cells)
    column = _with_words(column, found, cells)
    if read is None and column.strange:
        return column.doubted("the values are no clubs that are known")
    return column.doubted("some clubs were not understood") if column.strange else column


def _with_told(found: dict[str, str], heading: Heading, cells: list[str]) -> tuple[dict[str, str], bool]:
    """What was understood, and above it what somebody has said; whether that is every word."""
    told = {cell: heading.words[key] for cell in dict.fromkeys(cells) if (key := cell.strip().lower()) in heading.words}
    merged = {**found, **told, **{word: heading.words[word] for word in set(heading.words) - {cell.lower() for cell in told}}}
    return {cell: meaning for cell, meaning in merged.items() if meaning}, bool(told) and all(map(told.get, cells))


def _with_words(column: DraftedColumn, found: dict[str, str], cells: list[str]) -> DraftedColumn:
    words = {cell: meaning for cell, meaning in found.items() if cell.lower() != meaning}
    return replace(column, words=words, strange=tuple(cell for cell in dict.fromkeys(cells) if cell not in found))


def vocabulary_of(kind: str, cells: list[str], taken: set[str]) -> str:
    """The one column of this kind of whose words all cells are, by their values alone; empty when there is none or more."""
    distinct = set(cells)
    if len(distinct) < 2 or any(re.search(r"\d", cell) or len(cell) < _SHORTEST_WORD for cell in distinct):
        return ""
    asked = {target: name for (of, target), name in VOCABULARY.items() if of == kind and name != "truth"}
    fits = [target for target, name in asked.items() if value_words(name, cells)[1]]
    return fits[0] if len(fits) == 1 and fits[0] not in taken else ""
