"""Wide tables: a column for each region of the body or for each test becomes a row, or a column of ours by the player's hand."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from pipelines.stages.intake.draft.body_parts import side_by_letter
from pipelines.stages.intake.draft.columns import drafted_column
from pipelines.stages.intake.draft.drafted import DraftedColumn
from pipelines.stages.intake.draft.gloss import glossed
from pipelines.stages.intake.draft.headings import SAYS_MORE
from pipelines.stages.intake.draft.letters import bare
from pipelines.stages.intake.draft.lexicon import Meaning, brackets, contained, listed_words, meaning_of, unit_of
from pipelines.stages.intake.draft.numbers import scale_of
from pipelines.stages.intake.draft.values import is_numeric
from schemas.regions import REGIONS
from schemas.units import UNITS

if TYPE_CHECKING:
    from pipelines.stages.intake.draft.drafted import Drafting
    from pipelines.stages.intake.draft.headings import Heading

_BESIDE_STIFF = frozenset(
    {"idle", "stiff", "how", "lateral", "region", "body", "perceived", "feel", "muscle", "answered", "part"}
)
QUESTIONS = ("participation", "modified", "performance", "symptoms")


@dataclass(frozen=True)
class LongDraft:
    """One line as many rows.

    Attributes
    ----------
    values : tuple of str
        Words for the cells.
    rows : dict
        What a row is about, and its columns in the file.
    columns : dict
        Columns of ours that are made of them.
    """

    values: tuple[str, ...]
    rows: dict[str, tuple[str, ...]]
    columns: dict[str, DraftedColumn] = field(default_factory=dict)

    @property
    def headers(self) -> tuple[str, ...]:
        """Columns of the file that it takes."""
        return tuple(header for columns in self.rows.values() for header in columns)


def sided_pairs(draft: Drafting, headings: list[Heading]) -> dict[str, DraftedColumn]:
    """Stiffness by region: plain regions, lead and trail as they stand, left and right by the player's hand."""
    parts = {one.header: one for one in headings if one.part is not None and not one.native and _is_stiff(one)}
    found: dict[str, DraftedColumn] = {}
    by_side: dict[tuple[str, str], Heading] = {}
    for one in parts.values():
        if one.part is None:
            continue
        if one.part.side in {"left", "right"}:
            by_side[one.part.region, one.part.side] = one
        elif one.part.word in REGIONS and f"stiff_{one.part.word}" not in found:
            found[f"stiff_{one.part.word}"] = _stiffness(draft, f"stiff_{one.part.word}", one)
    for region in dict.fromkeys(region for region, _ in by_side):
        left, right = by_side.get((region, "left")), by_side.get((region, "right"))
        if left is None or right is None or f"lead_{region}" not in REGIONS:
            continue
        for side in ("lead", "trail"):
            target = f"stiff_{side}_{region}"
            on_left, on_right = _stiffness(draft, target, left), _stiffness(draft, target, right)
            sure = on_left.sure and on_right.sure and on_left.scale == on_right.scale
            column = DraftedColumn(target, sure=sure, why=on_left.why or on_right.why, scale=on_left.scale)
            column = replace(column, left=left.header, right=right.header)
            found[target] = column.noted("left and right by the player's hand")
    return found


def _is_stiff(one: Heading) -> bool:
    left = one.part.left_over if one.part is not None else ()
    return not left or "stiff" in meaning_of(" ".join(left)).concepts


def _stiffness(draft: Drafting, target: str, one: Heading) -> DraftedColumn:
    left = one.part.left_over if one.part is not None else ()
    doubt = "that it is stiffness is a guess" if not left else SAYS_MORE if _says_more_than_stiff(left) else ""
    plain = type(one)(one.header, one.text, one.unit, Meaning((target,), ()), doubt, native=False, part=one.part)
    return drafted_column(draft, target, plain)


def _says_more_than_stiff(left: tuple[str, ...]) -> bool:
    """Whether what stands beside a region says more than that it is stiff: yesterday, at rest, without strength."""
    meant = meaning_of(" ".join(left))
    rest = meant.left if "stiff" in meant.concepts and len(meant.concepts) == 1 else left
    return any(not piece.words & _BESIDE_STIFF for piece in glossed(list(rest)))


def long_draft(draft: Drafting, headings: list[Heading]) -> LongDraft | None:
    """Rows of regions or tests that stand side by side; None when they do not."""
    if draft.kind == "mobility" and not any(_names_rows(draft, one, "test") for one in headings):
        return _tests(draft, headings)
    if draft.kind == "problems" and not any(_names_rows(draft, one, "region") for one in headings):
        return _problems(draft, headings)
    return None


def _names_rows(draft: Drafting, one: Heading, what: str) -> bool:
    """Whether a column says of every row which test or region it is about: its words are no others'."""
    is_called_so = what in one.meaning.concepts and not one.meaning.left
    cells = draft.layout.cells(one.header)
    return is_called_so and (one.native or not cells or any(contained(cell, "values", what)[0] for cell in cells))


def beside_strangers(draft: Drafting, long: LongDraft, unknown: list[str]) -> dict[str, DraftedColumn]:
    """What was found in many columns, doubted where columns of numbers beside them were not understood: perhaps more of it."""
    strange = [
        header
        for header in unknown
        if (cells := draft.layout.cells(header)) and is_numeric(cells) == 1 and not _of_another_unit(draft.layout.said(header))
    ]
    if not strange:
        return long.columns
    told = f"{', '.join(strange)} may belong to it too"
    return {target: column.doubted(told) for target, column in long.columns.items()}


def _of_another_unit(said: str) -> bool:
    """Whether a header names a unit in which neither an angle nor an answer is: a weight, a pulse, a price."""
    units = [*brackets(said), re.split(r"[\s_,]+", said.strip())[-1]]
    return any(bare(unit) in listed_words("other_units") or unit in {"€", "$", "£"} for unit in units) or any(
        UNITS[unit_of(unit)].quantity not in {"angle", "share"} for unit in units if unit_of(unit)
    )


def _tests(draft: Drafting, headings: list[Heading]) -> LongDraft | None:
    rows: dict[str, tuple[str, ...]] = {}
    tests: dict[str, str] = {}
    sides: dict[str, str] = {}
    sure, degrees = True, True
    for one in headings:
        said = re.sub(r"\(.*?\)|\[.*?\]", " ", one.text)
        side, letter = side_by_letter(one.text)
        test, left = contained(said, "values", "test")
        if not test or is_numeric(draft.layout.cells(one.header)) < 1:
            continue
        left = tuple(word for word in left if word != letter)
        if not side:
            side, left = contained(" ".join(left), "values", "side") if left else ("both", ())
        key = one.header.lower()
        rows[key], tests[key], sides[key] = (one.header,), test, side or "both"
        sure &= bool(side) and not [word for word in left if not unit_of(word)]
        degrees &= one.unit == "deg" or max(map(abs, draft.numbers(draft.layout.cells(one.header))), default=0) > 6.3
    if len(rows) < 2:
        return None
    by_hand = bool({"left", "right"} & set(sides.values()))
    sure &= all(_go_together([sides[key] for key in tests if tests[key] == test]) for test in set(tests.values()))
    columns = {
        "test": DraftedColumn("test", ("what",), words=tests),
        "side": DraftedColumn("side", ("what",), words=sides, by_hand=by_hand),
        "value_deg": DraftedColumn("value_deg", ("answer",)),
    }
    if not sure:
        columns = {target: column.doubted("some headers say more than test and side") for target, column in columns.items()}
    if not degrees:
        columns["value_deg"] = columns["value_deg"].doubted("the unit is not written; deg or rad would do")
    return LongDraft(("answer",), rows, columns)


def _go_together(sides: list[str]) -> bool:
    """Whether a test has a column for either side, or one for both."""
    told = set(sides)
    return len(told) == len(sides) and any(told <= pair for pair in ({"left", "right"}, {"lead", "trail"}, {"both"}))


def _problems(draft: Drafting, headings: list[Heading]) -> LongDraft | None:
    asked: dict[str, dict[str, Heading]] = {}
    for one in headings:
        if one.part is None or one.native or not one.part.word:
            continue
        meant = meaning_of(" ".join(one.part.left_over)).concepts if one.part.left_over else ()
        question = next((concept for concept in meant if concept in QUESTIONS), "" if not one.part.left_over else "?")
        asked.setdefault(one.part.word, {})[question] = one
    questions = list(dict.fromkeys(question for answers in asked.values() for question in answers))
    if len(asked) < 2 or "?" in questions or any(set(answers) != set(questions) for answers in asked.values()):
        return None
    values = tuple(question or "participation" for question in questions)
    rows = {word: tuple(answers[question].header for question in questions) for word, answers in asked.items()}
    by_hand = any(word.startswith(("left_", "right_")) for word in rows)
    columns = {"region": DraftedColumn("region", ("what",), by_hand=by_hand)}
    for question, target in zip(questions, values, strict=True):
        column = DraftedColumn(target, (f"{target} answer",))
        scales = [
            scale_of(
                answers[question].text,
                draft.remarks,
                draft.numbers(draft.layout.cells(answers[question].header)),
                is_good=False,
                of_taking_part=target == "participation",
            )
            for answers in asked.values()
        ]
        if not all(scale.ends == (0.0, 3.0) for scale in scales):
            column = column.doubted("that the answers are 0 to 3 is not shown")
        columns[target] = column if question else column.doubted("which of the four questions this answers is a guess")
    return LongDraft(tuple(f"{target} answer" for target in values), rows, columns)
