"""Which column of an unknown file is which of ours, in which unit, and how sure that is."""

from __future__ import annotations

import statistics
from dataclasses import dataclass, field, replace

from pipelines.stages.intake.draft import values
from pipelines.stages.intake.draft.layout import Layout
from pipelines.stages.intake.draft.words import NOT_KEPT, Understood, understood, unit_in_header, unit_of
from schemas.files import KINDS
from schemas.units import conversion

_SIDED = {"direction_deg", "offline_m", "spin_axis_deg", "path_deg", "face_deg", "strike_side_mm"}
_LONG = {"carry_m", "offline_m", "apex_m"}


@dataclass(frozen=True)
class DraftedColumn:
    """One column of ours, as drafted.

    Attributes
    ----------
    target : str
        Our column; ``date`` and ``time`` until they are joined.
    sources : tuple of str
        Columns of the file.
    sure : bool
    why : str
        What is not sure, or what was assumed.
    unit : str
    formats, plus, minus : tuple of str
    words : dict
    template : str
    number_rows : bool
    """

    target: str
    sources: tuple[str, ...] = ()
    sure: bool = True
    why: str = ""
    unit: str = ""
    formats: tuple[str, ...] = ()
    plus: tuple[str, ...] = ()
    minus: tuple[str, ...] = ()
    words: dict[str, str] = field(default_factory=dict)
    template: str = ""
    number_rows: bool = False

    def doubted(self, why: str) -> DraftedColumn:
        """The same column, no longer sure."""
        return replace(self, sure=False, why=f"{self.why}; {why}" if self.why else why)


def _unit_written(layout: Layout, header: str) -> str:
    if layout.units:
        return unit_of(layout.units[layout.header.index(header)]) or unit_in_header(header)
    return unit_in_header(header)


def _in_cells(cells: list[str]) -> str:
    """The unit that stands at every number."""
    units = {unit_of("".join(sign for sign in cell if not (sign.isdigit() or sign in "+-−.,' ")).strip()) for cell in cells}
    return units.pop() if len(units) == 1 else ""


def _numbers(cells: list[str], decimal: str, thousands: str) -> list[float]:
    found = []
    for cell in cells:
        text = "".join(sign for sign in cell.replace("−", "-") if sign.isdigit() or sign in "+-.,")
        try:
            found.append(float((text.replace(thousands, "") if thousands else text).replace(decimal, ".")))
        except ValueError:
            continue
    return found


def _fits_limits(target: str, kind: str, unit: str, numbers: list[float]) -> bool:
    """Whether nearly all values, converted, lie within the limits of the quantity."""
    limits = KINDS[kind].column(target).field
    if limits.low is None or limits.high is None or not numbers:
        return True
    to_si = conversion(unit or limits.unit, limits.unit) if limits.unit else None
    inside = [limits.low <= (to_si.to_si(number) if to_si else number) <= limits.high for number in numbers]
    return sum(inside) >= 0.8 * len(inside)


def _number_column(
    kind: str, target: str, header: str, meant: Understood, layout: Layout, signs: tuple[str, str]
) -> DraftedColumn:
    cells = layout.cells(header)
    own_unit = KINDS[kind].column(target).field.unit
    numbers = _numbers(cells, *signs)
    unit = _unit_written(layout, header) or _in_cells(cells)
    column = DraftedColumn(target, (header,))
    if own_unit and unit:
        try:
            conversion(unit, own_unit)
        except (KeyError, ValueError):
            column, unit = column.doubted(f"{unit} is no unit of this quantity"), ""
    if own_unit and not unit:
        unit = values.unit_by_range(target, statistics.median(numbers)) if numbers else ""
        if not unit and own_unit in {"deg", "rpm"}:
            unit = own_unit
        column = replace(column, why="unit by the range of the values") if unit else column.doubted("the unit is not written")
    column = replace(column, unit=unit if unit != own_unit else "")
    if meant.surplus:
        column = column.doubted("the header says more than the name of the quantity")
    if values.is_numeric(cells) < 0.9:
        column = column.doubted("not all cells are numbers")
    if not _fits_limits(target, kind, unit, numbers):
        column = column.doubted("values lie outside the limits of this quantity")
    return _with_sides(column, cells)


def _with_sides(column: DraftedColumn, cells: list[str]) -> DraftedColumn:
    if column.target not in _SIDED:
        return column
    sides = values.side_words(cells)
    if sides is None:
        return replace(column, why=column.why or "positive is taken as right (strike: toe)")
    plus, minus, all_known = sides
    column = replace(column, plus=tuple(plus), minus=tuple(minus))
    return column if all_known else column.doubted("a word at the numbers was not understood")


def _text_column(kind: str, target: str, header: str, meant: Understood, layout: Layout) -> DraftedColumn:
    cells = layout.cells(header)
    column = DraftedColumn(target, (header,))
    if meant.surplus:
        column = column.doubted("the header says more than the name of the quantity")
    if target == "club":
        words = values.clubs_in(list(dict.fromkeys(cells)))
        if words is None:
            return column.doubted("the values are no clubs that are known")
        column = replace(column, words=words)
        return column if len(words) == len(set(cells)) else column.doubted("some clubs were not understood")
    if target == "shot_no" and not all(cell.isdigit() for cell in cells):
        return column.doubted("not all cells are whole numbers")
    if kind == "checkins" and target == "date":
        form, alone = values.day_form(cells)
        column = replace(column, formats=(form,)) if form else column.doubted("the form of the days was not understood")
        return column if alone else column.doubted("day and month could be swapped")
    return column


def _candidates(layout: Layout) -> tuple[dict[str, tuple[str, Understood]], list[str], list[str]]:
    """Target to its best header; headers that name something else that is known; headers that nothing explains."""
    best: dict[str, tuple[str, Understood]] = {}
    known_but_not_kept: list[str] = []
    unknown: list[str] = []
    for header in layout.header:
        meant = understood(header)
        if not meant.target or meant.surplus > 1:
            unknown.append(header)
        elif meant.target in NOT_KEPT:
            known_but_not_kept.append(header)
        elif meant.target not in best or (meant.surplus, -meant.weight) < _rank(best[meant.target][1]):
            if meant.target in best:
                unknown.append(best[meant.target][0])
            best[meant.target] = (header, meant)
        else:
            unknown.append(header)
    return best, known_but_not_kept, unknown


def _rank(meant: Understood) -> tuple[int, int]:
    return (meant.surplus, -meant.weight)


def kind_of_columns(targets: set[str]) -> str:
    """The kind of file that the quantities belong to; empty when none."""
    shots = targets & set(KINDS["shots"].names) - {"player_id", "session_id"}
    answers = targets & {"fatigue", "soreness", "stress", "sleep_h"}
    if len(answers) >= 2 and len(answers) > len(shots & {"club_speed_mps", "ball_speed_mps", "carry_m"}):
        return "checkins"
    return "shots" if targets & {"club_speed_mps", "ball_speed_mps", "carry_m"} else ""


def drafted_columns(layout: Layout, signs: tuple[str, str]) -> tuple[str, dict[str, DraftedColumn], list[str], list[str]]:
    """Kind, our columns, headers left out as known, and headers that were not understood."""
    best, not_kept, unknown = _candidates(layout)
    kind = kind_of_columns(set(best))
    found: dict[str, DraftedColumn] = {}
    for target, (header, meant) in best.items():
        if not kind or (target not in KINDS[kind].names and target not in {"date", "time", "struck_at"}):
            unknown.append(header)
        elif target in {"time", "struck_at"} or (target == "date" and kind == "shots"):
            found[target] = DraftedColumn(target, (header,), sure=not meant.surplus)
        elif KINDS[kind].column(target).field.kind == "number":
            found[target] = _number_column(kind, target, header, meant, layout, signs)
        else:
            found[target] = _text_column(kind, target, header, meant, layout)
    return kind, _lengths_alike(found), not_kept, unknown


def _lengths_alike(found: dict[str, DraftedColumn]) -> dict[str, DraftedColumn]:
    """A length without a unit takes that of the other lengths, unsurely."""
    told = {found[name].unit or "m" for name in _LONG & found.keys() if found[name].sure}
    speeds = {found[name].unit for name in ("club_speed_mps", "ball_speed_mps") if name in found}
    guess = next(iter(told)) if len(told) == 1 else "yd" if "mph" in speeds else ""
    for name in _LONG & found.keys():
        column = found[name]
        if "the unit is not written" in column.why and guess not in {"", "m"}:
            found[name] = replace(column, unit=guess)
    return found
