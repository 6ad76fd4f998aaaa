"""In which unit, on which scale and with which signs the numbers of a column are, and what shows it.

Nothing is taken for sure that is not shown: a unit written somewhere, or values that make sense in one unit only.
"""

from __future__ import annotations

import re
import statistics
from dataclasses import dataclass

from pipelines.stages.intake.draft.gloss import pieces_in
from pipelines.stages.intake.draft.letters import bare
from pipelines.stages.intake.draft.lexicon import brackets, end_of_scale, listed_words, side_of, unit_of
from pipelines.stages.intake.draft.remarks import NEGATIVE, POSITIVE
from schemas.units import UNITS, conversion

_MIDDLES: dict[str, tuple[float, float]] = {
    "spin_rpm": (300, 14000), "sleep_h": (3, 14), "height_cm": (90, 220), "duration_min": (3, 600), "minutes": (30, 3000),
    "air_temp_c": (-15, 45), "air_pressure_hpa": (600, 1100), "humidity_pct": (5, 100), "wind_mps": (0, 25),
    "club_speed_mps": (10, 62), "ball_speed_mps": (10, 95), "carry_m": (5, 330), "apex_m": (1, 60),
}  # fmt: skip
"""Where the middle of a column may lie, in our unit (common practice, wide): it decides only which units are possible."""
_USUAL: dict[str, tuple[str, ...]] = {
    "speed": ("m/s", "mph", "km/h"),
    "length": ("m", "yd", "ft"),
    "angle": ("deg", "rad"),
    "rate": ("rpm", "rps"),
    "temperature": ("degC", "degF"),
    "pressure": ("hPa", "inHg", "kPa", "mmHg"),
    "time": ("min", "h"),
    "share": ("%", "share"),
}
_BODY_LENGTH = ("cm", "m", "in", "ft")
_STRIKE = ("mm", "cm", "in")
_SPAN = r"(?<![\d.])(\d{1,3})\s*(?:\([^()]*\)\s*)?(?:-|–|—|~|〜|～|to|bis|à|a|al|tot|til|till|até|→|から)\s*(\d{1,3})(?![\d.])"
_TOLD = r"(\d{1,3})\s*\(([^()\d]+)\)"
_LEGEND = r"(\d{1,3})\s*[=:＝]\s*([^\d=:,;/()\[\]（）|]+)"
_PLAIN_LEGEND = r"(\d{1,3}) ([^\W\d_]{3,}(?: [^\W\d_]+)*)"


@dataclass(frozen=True)
class Scale:
    """The scale of a rating.

    Attributes
    ----------
    ends : tuple of float
        None or best, and worst; empty when no scale is shown.
    doubt : str
        What is not shown; empty when all is.
    """

    ends: tuple[float, ...]
    doubt: str


def usual_units(own_unit: str) -> tuple[str, ...]:
    """The units in which exports give a quantity."""
    return _BODY_LENGTH if own_unit == "cm" else _STRIKE if own_unit == "mm" else _USUAL[UNITS[own_unit].quantity]


def possible_units(target: str, own_unit: str, low: float | None, high: float | None, numbers: list[float]) -> list[str]:
    """The units in which the numbers make sense."""
    if not numbers:
        return []
    middle = statistics.median(numbers)
    largest = max(numbers, key=abs)
    found = []
    for symbol in usual_units(own_unit):
        to_si = conversion(symbol, own_unit)
        least, most = _MIDDLES.get(target, (low, high))
        inside = least is None or most is None or least <= to_si.to_si(middle) <= most
        reach = low is None or high is None or low <= to_si.to_si(largest) <= high
        if inside and reach:
            found.append(symbol)
    return found


def unit_in_cells(cells: list[str]) -> str:
    """The unit that stands at every number."""
    units = {unit_of("".join(sign for sign in cell if not (sign.isdigit() or sign in "+-−.,' ")).strip()) for cell in cells}
    return units.pop() if len(units) == 1 else ""


def _side_alone(behind: re.Match[str]) -> str:
    """Of the words behind a sign the one that names a side: ``+ à droite``."""
    words = re.findall(r"[^\W\d_]+", behind[0])
    sides = [word for word in words if side_of(word)]
    return f" {sides[0]} " if len(words) > 1 and len(sides) == 1 else behind[0]


def _signs_as_signs(part: str) -> str:
    """A remark with a sign in place of its word: ``rechts positiv`` as ``rechts +``."""
    is_word = r"(?:is|ist|är|er|est|es)"
    for sign, word in (("+", POSITIVE), ("-", NEGATIVE)):
        behind = re.compile(rf"([^\W\d_]+)\s+(?:{is_word}\s+)?{word}(?![^\W\d_])", re.IGNORECASE)
        before = re.compile(rf"(?<![^\W\d_]){word}\s*(?:{is_word}|=|:)?\s+([^\W\d_]+)", re.IGNORECASE)
        for found in [*behind.finditer(part), *before.finditer(part)]:
            if side_of(found[1]):
                part = part.replace(found[0], f"{found[1]} {sign}")
    return part


def sign_rule(header: str) -> tuple[bool | None, str]:
    """Whether left is positive, None where the header does not say it, and what of its brackets was not understood."""
    for part in brackets(re.sub(r"([^\W\d_]+)\s*\(\s*([+\-−])\s*\)", r"(\1 \2)", header)):  # toe(+)
        if unit_of(part):
            continue
        plain = _signs_as_signs(re.sub(r"(?<=[右左トウヒール])[がはを]", " ", part))
        plain = re.sub(r"(?<=[+\-−])([^,;/()+\-−]*)", _side_alone, plain)
        signs = re.findall(r"([^\W\d_]+)\s*(?:is|=|:)?\s*([+\-−])|([+\-−])\s*(?:is|=|:)?\s*([^\W\d_]+)", plain)
        sides = {(side_of(a or d), (b or c) == "+") for a, b, c, d in signs}
        if not sides or any(not side for side, _ in sides):
            return None, part
        reverse = {(side == "plus") != positive for side, positive in sides}
        if len(reverse) > 1:
            return None, part
        return reverse.pop(), ""
    return None, ""


def scale_of(header: str, remarks: list[str], numbers: list[float], *, is_good: bool, of_taking_part: bool = False) -> Scale:
    """The scale of a rating by its header and by the remarks of the file.

    Parameters
    ----------
    header : str
        With its brackets, and what stands below it in a row of units.
    remarks : list of str
        Lines that may speak of all ratings.
    numbers : list of float
    is_good : bool
        The word means something good, so that more of it is better.
    of_taking_part : bool
        It may be asked how far somebody took part, so that "fully" is the best and "not at all" the worst.
    """
    ends_of = _taking_part if of_taking_part and not _asks_trouble(header) else end_of_scale
    spans = _spans(header) or sorted({span for remark in remarks for span in _spans(remark)})
    legend = _legend(header) or [pair for remark in remarks for pair in _legend(remark)]
    if any(len({ends_of(text) for number, text in legend if number == one}) > 1 for one, _ in legend):
        return Scale((), "several scales are named")
    told = {float(number): ends_of(text) for number, text in legend}
    if not legend:  # as names without signs write it: 0 none 10 worst
        ends = {float(number): ends_of(text) for number, text in re.findall(_PLAIN_LEGEND, header)}
        told = {number: end for number, end in ends.items() if end}
    if not spans and len(told) >= 2:
        spans = [(min(told), max(told))]
    if not spans and len(told) == 1 and next(iter(told)) == 10 and numbers and min(numbers) == 0:
        spans = [(0.0, 10.0)]
    if len(spans) != 1:
        return Scale((), "the scale is not shown" if not spans else "several scales are named")
    low, high = spans[0]
    if numbers and not (low <= min(numbers) and max(numbers) <= high):
        return Scale((), "values lie outside the scale that is named")
    return _directed(low, high, told, is_good=is_good)


def _asks_trouble(header: str) -> bool:
    """Whether a header asks for trouble with something, so that "not at all" is the best."""
    return any(piece.words & {"trouble", "effect"} for piece in pieces_in(header))


def _taking_part(text: str) -> str:
    """What an end of a scale of taking part means: ``none`` (no trouble) for "fully", ``worst`` for "not at all"."""
    phrase = bare(text)
    if phrase in listed_words("fully"):
        return "none"
    return "worst" if phrase in listed_words("not_at_all") else end_of_scale(text)


def _directed(low: float, high: float, told: dict[float, str], *, is_good: bool) -> Scale:
    """The scale with none or best first, by what is told of its ends."""
    reverse = {told[end] == ("worst" if end == low else "none") for end in (low, high) if told.get(end)}
    if len(reverse) == 1:
        return Scale((high, low) if reverse.pop() else (low, high), "")
    natural = (high, low) if is_good else (low, high)
    if reverse or told:
        return Scale(natural, "the remarks on the scale disagree, or were not understood")
    whole = (low, high) == (0.0, 10.0) and not is_good
    return Scale(natural, "" if whole else "nothing says which end of the scale is best")


def _legend(text: str) -> list[tuple[str, str]]:
    """Numbers and what they mean: ``0 = none``, or ``0 (none) to 10 (worst)``."""
    return re.findall(_LEGEND, text) or re.findall(_TOLD, text) or _worded(text)


def _worded(text: str) -> list[tuple[str, str]]:
    """Both ends of a scale with their words and no sign between: ``(0 no - 3 completely)``."""
    end = r"(\d{1,2}) ([^\d()]+?)\s*"
    found = re.search(rf"[(（\[]\s*{end}(?:[-–—,;/]|\.{{2,3}}|to|bis|à|a|al|tot|til|till|até)\s*{end}[)）\]]", text)
    return [(found[1], found[2]), (found[3], found[4])] if found else []


def _spans(text: str) -> list[tuple[float, float]]:
    found = {(float(low), float(high)) for low, high in re.findall(_SPAN, text)}
    return sorted(span for span in found if span[0] < span[1])
