"""Which column of an unknown file is which of ours, in which unit and on which scale, and how sure that is."""

from __future__ import annotations

import re
import statistics
from dataclasses import replace
from typing import TYPE_CHECKING

from pipelines.stages.intake.draft import values
from pipelines.stages.intake.draft.drafted import DraftedColumn, Drafting
from pipelines.stages.intake.draft.headings import Heading, strange_brackets
from pipelines.stages.intake.draft.letters import bare
from pipelines.stages.intake.draft.lexicon import listed_words, split_unit, telling, unit_of
from pipelines.stages.intake.draft.numbers import possible_units, scale_of, sign_rule, unit_in_cells, usual_units
from pipelines.stages.intake.draft.vocabulary import VOCABULARY, club_column, region_column, word_column
from pipelines.stages.intake.mapping_columns import WORST, is_rating
from schemas.fields import ID_PATTERN
from schemas.files import KINDS
from schemas.units import UNITS, conversion

if TYPE_CHECKING:
    from schemas.fields import Field

SIDED = {"direction_deg", "offline_m", "spin_axis_deg", "path_deg", "face_deg", "strike_side_mm"}
_LONG_CLUBS: dict[str, tuple[tuple[str, float, float], ...]] = {
    "club_speed_mps": (("m/s", 26, 60), ("mph", 65, 135), ("km/h", 145, 215)),
    "ball_speed_mps": (("m/s", 36, 87), ("mph", 95, 195), ("km/h", 210, 315)),
}
"""Where the middle of a driver's or wood's readings lies in each unit (common practice): good for a guess, never for more."""
_WEEKS = {"week_starting": 1, "week_ending": 7}
"""Columns of weeks, and which day of an ISO week they name."""
_GOOD = {"sleep_quality", "freshness", "calmness"}
"""Words of which more is better, while our column counts the opposite."""
_QUESTIONS = {"participation", "modified", "performance", "symptoms"}
_MOSTLY, _LONGEST_NIGHT = 0.9, 14
_LARGE_RATING = 5.0


def drafted_column(draft: Drafting, target: str, heading: Heading) -> DraftedColumn:
    """One column of ours from one of the file."""
    cells = draft.layout.cells(heading.header)
    column = DraftedColumn(target, (heading.header,))
    if heading.doubt:
        column = column.doubted(heading.doubt)
    if not cells:
        own = KINDS[draft.kind].column(target).field
        is_free = own.kind == "text" and not own.allowed and not own.pattern and target not in KINDS[draft.kind].required
        return column.noted("the column is empty") if is_free else column.doubted("the column is empty")
    column = _by_values(draft, column, heading, cells)
    is_apart = target != "arms" or all("|" in cell for cell in cells)
    return column if is_apart else column.doubted("the arms are not set apart by |")


def _by_values(draft: Drafting, column: DraftedColumn, heading: Heading, cells: list[str]) -> DraftedColumn:
    """The column with what its cells say; columns of words and questions first, then by the kind of the quantity."""
    target, quantity = column.target, KINDS[draft.kind].column(column.target).field
    if target in {"region", "club"}:
        return (region_column if target == "region" else club_column)(column, heading, cells)
    if target in _QUESTIONS or (draft.kind, target) in VOCABULARY:
        return (_question if target in _QUESTIONS else word_column)(draft, column, heading, cells)
    if quantity.kind == "day":
        return _day_column(column, cells, draft.order)
    if is_rating(quantity):
        return _rating_column(draft, column, heading, cells)
    if quantity.kind in {"number", "integer"}:
        return _number_column(draft, column, quantity, heading, cells)
    fits = not quantity.pattern or target == "player_id" or all(re.match(quantity.pattern, cell) for cell in cells)
    return column if fits else column.doubted("these are no ids")


def _day_column(column: DraftedColumn, cells: list[str], order: str) -> DraftedColumn:
    if column.target in _WEEKS and all(re.fullmatch(r"\d{4}-W\d\d", cell) for cell in cells):
        template = f"{{{column.sources[0]}}}-{_WEEKS[column.target]}"
        return replace(column, sources=(), template=template, formats=("%G-W%V-%u",)).noted("weeks are numbered as ISO 8601 does")
    form, alone = values.day_form(cells, order)
    if not form:
        form, alone = values.instant_form(cells, order)
        column = replace(column, cut=r"^(\d{4}-\d{2}-\d{2})") if form == "iso" else column
        form = {"iso": "%Y-%m-%d", "epoch s": "", "epoch ms": ""}.get(form, form)
    column = replace(column, formats=(form,) if form not in {"", "%Y-%m-%d"} else ())
    if not form:
        return column.doubted("the form of the days was not understood")
    return column if alone else column.doubted("day and month could be swapped")


def _question(draft: Drafting, column: DraftedColumn, heading: Heading, cells: list[str]) -> DraftedColumn:
    numbers = draft.numbers(cells)
    if len(numbers) < len(cells) or not all(number in {0, 1, 2, 3} for number in numbers):
        return column.doubted("the answers are not 0 to 3")
    scale = scale_of(heading.text, draft.remarks, numbers, is_good=False, of_taking_part=column.target == "participation")
    if heading.native and draft.is_native:
        return column
    if scale.ends == (0.0, 3.0) and (not scale.doubt or "which end" in scale.doubt):
        return column
    return column.doubted(scale.doubt or "the scale is not 0 to 3")


def _rating_column(draft: Drafting, column: DraftedColumn, heading: Heading, cells: list[str]) -> DraftedColumn:
    numbers = draft.numbers(cells)
    if values.is_numeric(cells) < 1 or len(numbers) < len(cells):
        return column.doubted("not all cells are numbers")
    if heading.scale:
        return _on_told_scale(column, heading.scale, numbers)
    is_good = bool(_GOOD & set(heading.meaning.concepts))
    scale = scale_of(heading.text, draft.remarks, numbers, is_good=is_good)
    if scale.ends and scale.ends != (0.0, 10.0):
        column = replace(column, scale=scale.ends)
    if not scale.ends and heading.native and draft.is_native and scale.doubt == "the scale is not shown":
        return (
            column if max(numbers) > _LARGE_RATING or min(numbers) < 1 else column.doubted("they could be on a scale of 1 to 5")
        )
    strange = strange_brackets(heading.text)
    if strange and (not scale.ends or not all(re.search(r"\d", part) for part in strange)):
        return column.doubted("what stands in brackets was not understood")
    column = column.doubted(scale.doubt) if scale.doubt else column
    if scale.ends not in {(), (0.0, 10.0)} and not scale.doubt:
        column = column.doubted("the file has another scale than 0 (none) to 10 (worst): look whether it is turned the right way")
    if is_good:
        column = column.doubted("it asks for the opposite")
    return column.doubted("the values lie outside 0 to 10") if not scale.ends and max(numbers) > 10 else column


def _on_told_scale(column: DraftedColumn, ends: tuple[float, ...], numbers: list[float]) -> DraftedColumn:
    low, high = sorted(ends)
    column = replace(column, scale=ends) if ends != (0.0, WORST) else column
    inside = low <= min(numbers) and max(numbers) <= high
    return column if inside else column.doubted("values lie outside the scale that is named")


def _number_column(draft: Drafting, column: DraftedColumn, quantity: Field, heading: Heading, cells: list[str]) -> DraftedColumn:
    if quantity.unit and UNITS[quantity.unit].quantity == "time" and _is_duration(cells):
        parts = "h:m:s" if all(len(re.findall(r"\d+", cell)) == 3 for cell in cells) else "h:m"
        column = replace(column, duration=parts)
        late = column.target == "sleep_h" and any(int(re.findall(r"\d+", cell)[0]) > _LONGEST_NIGHT for cell in cells)
        return column.doubted("these look like times of day") if late else column
    decimal, _, is_clear = values.decimal_sign(cells)
    if is_clear and decimal == "," and draft.signs[0] == ".":  # a text beside numbers that a program has written
        draft, column = replace(draft, signs=(",", "")), replace(column, decimal=",")
    numbers = draft.numbers(cells)
    if values.is_numeric(cells) < 1:
        column = column.doubted("not all cells are numbers")
        if values.is_numeric(cells) < _MOSTLY:
            return column
    column = _with_unit(draft, column, quantity, heading, cells, numbers)
    column = _with_hours(column, heading, numbers)
    column = _with_signs(column, heading, cells, is_own=heading.native and draft.is_native)
    column = _with_part(_with_zero(column, heading), heading, is_own=heading.native and draft.is_native)
    has_unit = bool(heading.unit or unit_in_cells(cells))
    if (not draft.signs_sure and any(re.search(r"[.,]\d{3}$", cell) for cell in cells)) or (_in_doubt(cells) and not has_unit):
        column = column.doubted("the decimal sign could separate thousands")
    if quantity.kind == "integer" and any(number != int(number) for number in numbers):
        column = column.doubted("not all cells are whole numbers")
    return _within_limits(column, quantity, numbers)


def _in_doubt(cells: list[str]) -> bool:
    """Whether every number has one sign before three digits, so that it could stand for thousands or for a decimal."""
    return bool(cells) and all(re.fullmatch(r"\D*\d{1,3}[.,]\d{3}\D*", cell) for cell in cells)


def _is_duration(cells: list[str]) -> bool:
    clock = re.compile(
        r"\d{1,2}\s*(?::|h|hr|hrs|std\.?|t|u|hours?|時間)\s*\d{1,2}(?:\s*:\s*\d{2}|\s*(?:m|min|mins|minutes?|分)\.?)?",
        re.IGNORECASE,
    )
    return bool(cells) and all(clock.fullmatch(cell.strip()) for cell in cells)


def _with_unit(
    draft: Drafting, column: DraftedColumn, quantity: Field, heading: Heading, cells: list[str], numbers: list[float]
) -> DraftedColumn:
    if not quantity.unit:
        return column.doubted("this quantity has no unit") if heading.unit else column
    measures = UNITS[quantity.unit].quantity
    in_cells = unit_in_cells(cells)
    written = heading.unit or in_cells or draft.units.get(measures, "")
    if heading.unit and in_cells and heading.unit != in_cells:
        return column.doubted("the header and the cells name different units")
    if heading.native and draft.is_native and not written:
        written = quantity.unit
    possible = possible_units(column.target, quantity.unit, quantity.low, quantity.high, numbers)
    if written:
        try:
            conversion(written, quantity.unit)
        except (KeyError, ValueError):
            return column.doubted(f"{written} is no unit of this quantity")
        column = replace(column, unit=written if written != quantity.unit else "")
        fits = written in possible or written not in usual_units(quantity.unit)
        others = f"; {' or '.join(possible)} would do" if possible else ""
        return column if fits else column.doubted(f"the values hardly make sense in {written}{others}")
    if len(possible) == 1:
        column = replace(column, unit=possible[0] if possible[0] != quantity.unit else "")
        told = f"the values make sense in {possible[0]} only"
        return column.doubted(f"{told}, which nobody writes down") if possible[0] == "rps" else column.noted(told)
    guess = _guess(draft, column.target, quantity, possible, numbers)
    column = replace(column, unit=guess if guess != quantity.unit else "")
    told = (
        f"the unit is not written; {' or '.join(possible)} would do"
        if possible
        else "the values make sense in no unit that is known"
    )
    return column.doubted(told)


def _guess(draft: Drafting, target: str, quantity: Field, possible: list[str], numbers: list[float]) -> str:
    """The likeliest of several units: by where a long club's middle lies, else as the file names lengths elsewhere."""
    middle = statistics.median(numbers) if numbers else 0.0
    usual = [unit for unit, low, high in _LONG_CLUBS.get(target, ()) if low <= middle <= high]
    if len(usual) == 1:
        return usual[0]
    written = {unit_of(draft.layout.unit_cell(name)) or split_unit(name)[1] for name in draft.layout.header}
    imperial = {"mph", "yd", "ft"} & {*written, *draft.units.values()}
    return "yd" if imperial and "yd" in possible else quantity.unit


def _with_hours(column: DraftedColumn, heading: Heading, numbers: list[float]) -> DraftedColumn:
    """Whole numbers up to 10 below "Sleep" alone may be hours of it, or how good or bad it was."""
    says_hours = heading.native or heading.unit or any(unit_of(word) == "h" for word in re.findall(r"[^\W\d_]+", heading.text))
    if column.target != "sleep_h" or says_hours or any(number > WORST or number % 1 for number in numbers):
        return column
    return column.doubted("whole numbers up to 10 could be a rating of sleep as well as hours")


def _with_signs(column: DraftedColumn, heading: Heading, cells: list[str], *, is_own: bool) -> DraftedColumn:
    strange = strange_brackets(heading.text)
    if column.target not in SIDED:
        return column.doubted("what stands in brackets was not understood") if strange else column
    reverse, left_over = sign_rule(heading.text)
    column = replace(column, reverse=bool(reverse))
    if left_over and left_over in strange:
        column = column.doubted("what stands in brackets was not understood")
    sides = values.side_words(cells, heading.words)
    if sides is None:
        if heading.is_reversed is not None:
            return replace(column, reverse=heading.is_reversed)
        if reverse is None and not is_own:
            return column.doubted("which side is positive is not shown: taken as right (strike: toe)")
        return column.noted("left is positive in the file" if reverse else "positive is right (strike: toe)")
    plus, minus, strange_words = sides
    column = replace(column, plus=tuple(plus), minus=tuple(minus), strange=tuple(strange_words), reverse=False)
    return column.doubted("a word at the numbers was not understood") if strange_words else column


def _with_zero(column: DraftedColumn, heading: Heading) -> DraftedColumn:
    """Where the wind's direction counts from: north on most instruments, the line to the target in our column."""
    if column.target != "wind_from_deg" or heading.native or set(telling(heading.text)) & listed_words("target_line"):
        return column
    return column.doubted("whether it counts from the target line or from north is not shown")


def _with_part(column: DraftedColumn, heading: Heading, *, is_own: bool) -> DraftedColumn:
    """A score card counts the penalty strokes of the whole round, our column those of tee shots."""
    says_tee = any(word.startswith(tuple(listed_words("tee"))) for word in bare(heading.text).split())
    if column.target != "penalties" or is_own or says_tee:
        return column
    return column.doubted("ours counts penalty strokes from tee shots, not those of the whole round")


def _within_limits(column: DraftedColumn, quantity: Field, numbers: list[float]) -> DraftedColumn:
    if quantity.low is None or quantity.high is None or not numbers:
        return column
    to_si = conversion(column.unit or quantity.unit, quantity.unit) if quantity.unit else None
    inside = [quantity.low <= (to_si.to_si(number) if to_si else number) <= quantity.high for number in numbers]
    return column if all(inside) else column.doubted("values lie outside the limits of this quantity")


def looks_like_ids(cells: list[str]) -> bool:
    """Ids have the form of ids, and most of them a digit."""
    fits = all(re.match(ID_PATTERN, cell) for cell in cells)
    return bool(cells) and fits and sum(1 for cell in cells if re.search(r"\d", cell)) >= _MOSTLY * len(cells)
