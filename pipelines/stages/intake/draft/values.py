"""What the values of a column say: clubs, sides, days and times, decimal signs, and units by their range."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import polars as pl

from pipelines.stages.intake.draft.words import bare, unit_of
from schemas.clubs import CLUBS

if TYPE_CHECKING:
    from collections.abc import Sequence

_CLUB_FORMS: tuple[tuple[str, str], ...] = (
    (r"(driver|dr|d|1 ?w|w ?1|holz 1|1er holz|bois 1|madera 1)", "driver"),
    (r"([3-9]) ?(w|wd|wood|holz|bois|madera|tra|er holz)", "{}-wood"),
    (r"(?:w|fw|holz|bois|madera|tra|wood) ?([3-9])", "{}-wood"),
    (r"([2-6]) ?(h|hy|hyb|hybrid|hybride|hibrido)", "{}-hybrid"),
    (r"(?:h|hy|hybrid|hybride|hibrido) ?([2-6])", "{}-hybrid"),
    (r"([1-9]) ?(i|iron|eisen|fer|hierro|jarn|er eisen)", "{}-iron"),
    (r"(?:i|e|iron|eisen|fer|hierro|jarn) ?([1-9])", "{}-iron"),
    (r"(pw|pitching ?wedge|pitch wedge|p)", "pitching-wedge"),
    (r"(gw|aw|gap ?wedge|approach wedge)", "gap-wedge"),
    (r"(sw|sand ?wedge|s)", "sand-wedge"),
    (r"(lw|lob ?wedge)", "lob-wedge"),
    (r"(pt|putter|put)", "putter"),
)
_DAY_FORMS = ("%Y-%m-%d", "%d.%m.%Y", "%d/%m/%Y", "%m/%d/%Y", "%Y/%m/%d", "%d-%m-%Y", "%d.%m.%y", "%Y%m%d")
_CLOCK_FORMS = ("%H:%M:%S", "%H:%M", "%I:%M:%S %p", "%I:%M %p", "%H.%M.%S", "%H.%M")
_RIGHT = {"r", "right", "rechts", "re", "d", "droite", "dcha", "derecha", "h", "hoger"}
_LEFT = {"l", "left", "links", "li", "g", "gauche", "izq", "izda", "izquierda", "i", "v", "vanster"}
_TOE = {"toe", "t", "spitze", "pointe", "punta", "ta"}
_HEEL = {"heel", "ferse", "talon", "hal"}
SUMMARY_WORDS = {
    "average", "avg", "mean", "total", "sum", "std", "std dev", "deviation", "min", "max", "consistency", "median",
    "mittelwert", "durchschnitt", "summe", "streuung", "standardabweichung", "moyenne", "somme", "ecart type", "media",
    "promedio", "medel", "medelvarde", "snitt", "summa", "spridning",
}  # fmt: skip

_RANGES: dict[str, tuple[tuple[str, float, float], ...]] = {
    "club_speed_mps": (("m/s", 26, 60), ("mph", 65, 135), ("km/h", 145, 215)),
    "ball_speed_mps": (("m/s", 36, 87), ("mph", 95, 195), ("km/h", 210, 315)),
}
"""Where the middle of a driver's or wood's readings lies in each unit (common practice); gaps are left where two overlap."""


def club_of(word: str) -> str:
    """Our club for an export's word; empty when it is none."""
    text = re.sub(r"[^a-z0-9]+", " ", bare_with_digits(word)).strip()
    if text.replace(" ", "-") in CLUBS:
        return text.replace(" ", "-")
    for form, club in _CLUB_FORMS:
        match = re.fullmatch(form, text)
        if match:
            name = club.format(match[1]) if "{}" in club else club
            return name if name in CLUBS else ""
    return ""


def bare_with_digits(word: str) -> str:
    """Lower case without accents, digits kept."""
    return "".join(bare(part) if part.isalpha() else part for part in re.split(r"(\d+|\s+|[.\-_])", word.lower()))


def clubs_in(words: Sequence[str]) -> dict[str, str] | None:
    """Export's words to our clubs; None when fewer than half are clubs."""
    found = {word: club_of(word) for word in words}
    known = {word: club for word, club in found.items() if club}
    return known if known and 2 * len(known) >= len(found) else None


def day_form(cells: Sequence[str]) -> tuple[str, bool]:
    """The form of days, and whether no other form fits too; empty when none fits."""
    series = pl.Series(cells, dtype=pl.String)
    fits = [form for form in _DAY_FORMS if _reads(series, form, day=True)]
    return (fits[0], len(fits) == 1) if fits else ("", False)


def clock_form(cells: Sequence[str]) -> str:
    """The form of times of day; empty when none fits."""
    series = pl.Series([f"2000-01-01 {cell}" for cell in cells], dtype=pl.String)
    return next((form for form in _CLOCK_FORMS if _reads(series, f"%Y-%m-%d {form}", day=False)), "")


def instant_form(cells: Sequence[str]) -> tuple[str, bool]:
    """The form of a day with a time, and whether no other fits; ``iso`` when it is ours."""
    series = pl.Series(cells, dtype=pl.String)
    if series.str.contains(r"^\d{4}-\d\d-\d\dT\d\d:\d\d").all():
        return "iso", True
    between = ["T" if series.str.contains(r"\dT\d").all() else " "]
    forms = [f"{day}{sign}{clock}" for day in _DAY_FORMS for sign in between for clock in _CLOCK_FORMS]
    fits = [form for form in forms if _reads(series, form, day=False)]
    return (fits[0], len(fits) == 1) if fits else ("", False)


def _reads(series: pl.Series, form: str, *, day: bool) -> bool:
    read = series.str.to_date(form, strict=False) if day else series.str.to_datetime(form, strict=False, time_unit="us")
    if read.null_count() or not series.len():
        return False
    year = read.dt.year()
    return bool(year.is_between(1990, 2100).all())


def side_words(cells: Sequence[str]) -> tuple[list[str], list[str], bool] | None:
    """Words for plus and minus at the numbers of a column, and whether all were understood; None when there are none."""
    found = {match[0].strip() for cell in cells for match in re.finditer(r"[^\W\d_]+", cell)}
    words = {word for word in found if not unit_of(word)} or set()
    if not words:
        return None
    plus = sorted(word for word in words if bare(word) in _RIGHT | _TOE)
    minus = sorted(word for word in words if bare(word) in _LEFT | _HEEL)
    return plus, minus, len(plus) + len(minus) == len(words)


def is_numeric(cells: Sequence[str]) -> float:
    """Share of cells that hold one number, with or without a word at it."""
    number = re.compile(r"^\s*[^\W\d_]{0,6}\.?\s*[+\-−]?\d[\d.,'   ]*\s*[^\d\s]{0,7}\s*$")
    return sum(1 for cell in cells if number.match(cell)) / len(cells) if cells else 0.0


def decimal_sign(cells: Sequence[str]) -> tuple[str, str, bool]:
    """Decimal sign and thousands sign by all numbers of a file, and whether that is beyond doubt."""
    digits = [re.sub(r"[^\d.,]", "", cell).strip(".,") for cell in cells]
    digits = [cell for cell in digits if re.fullmatch(r"\d*[.,]?\d*|\d{1,3}([.,]\d{3})+([.,]\d*)?", cell)]
    comma = [cell for cell in digits if "," in cell]
    point = [cell for cell in digits if "." in cell]
    both = [cell for cell in digits if "," in cell and "." in cell]
    if both:
        decimal = "," if all(cell.rfind(",") > cell.rfind(".") for cell in both) else "."
        return decimal, "." if decimal == "," else ",", True
    grouped = re.compile(r"^\d{1,3}([.,]\d{3})+$")
    if comma and all(grouped.match(cell) for cell in comma) and point and not all(grouped.match(cell) for cell in point):
        return ".", ",", True
    if point and all(grouped.match(cell) for cell in point) and comma:
        return ",", ".", True
    if comma and not point:
        return (",", "", True) if not all(grouped.match(cell) for cell in comma) else (",", "", False)
    return ".", "", True


def unit_by_range(target: str, middle: float) -> str:
    """The unit in which a long club's middle reading makes sense; empty when none or several do."""
    fits = [unit for unit, low, high in _RANGES.get(target, ()) if low <= middle <= high]
    return fits[0] if len(fits) == 1 else ""
