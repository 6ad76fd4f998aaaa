"""What the values of a column say: clubs, sides, days and times, decimal signs."""

from __future__ import annotations

import re
from datetime import date
from typing import TYPE_CHECKING

import polars as pl

from pipelines.stages.intake.draft.letters import bare
from pipelines.stages.intake.draft.lexicon import listed_words, side_of, unit_of
from schemas.clubs import CLUBS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

_WOOD = (
    "w|wd|wood|wood club|holz|bois|madera|legno|hout|madeira|tra|trae|fairway|fw|fairway wood|fairwaywood|fairwayholz|koll|houten"
)
_HYBRID = "h|hy|hyb|hybrid|hybride|hibrido|ibrido|rescue|u|ut"
_IRON = "i|iron|eisen|fer|hierro|ferro|ijzer|jarn|jern|e|f|j"
_CLUB_FORMS: tuple[tuple[str, str], ...] = (
    (rf"(driver|dr|d|drv|1 ?(?:{_WOOD})|(?:{_WOOD}) ?1)", "driver"),
    (rf"([3-9]) ?(?:{_WOOD})", "{}-wood"),
    (rf"(?:{_WOOD}) ?([3-9])", "{}-wood"),
    (rf"([2-6]) ?(?:{_HYBRID})", "{}-hybrid"),
    (rf"(?:{_HYBRID}) ?([2-6])", "{}-hybrid"),
    (rf"([1-9]) ?(?:{_IRON})", "{}-iron"),
    (rf"(?:{_IRON}) ?([1-9])", "{}-iron"),
    (r"(pw|pitching ?wedge|pitch wedge|pitching|p)", "pitching-wedge"),
    (r"(gw|aw|gap ?wedge|approach wedge|attack wedge)", "gap-wedge"),
    (r"(sw|sand ?wedge|sandwedge|s)", "sand-wedge"),
    (r"(lw|lob ?wedge)", "lob-wedge"),
    (r"(pt|putter|put)", "putter"),
)
_JAPANESE = (
    ("ドライバー", "driver "), ("アイアン", " iron "), ("ウッド", " wood "), ("ユーティリティ", " hybrid "), ("番", " "),
    ("ピッチングウェッジ", "pw "), ("サンドウェッジ", "sw "), ("アプローチウェッジ", "aw "), ("ロブウェッジ", "lw "),
)  # fmt: skip
_LONGEST_SUMMARY = 4
_DAY_FORMS = (
    "%Y-%m-%d",
    "%d.%m.%Y",
    "%d/%m/%Y",
    "%m/%d/%Y",
    "%Y/%m/%d",
    "%d-%m-%Y",
    "%m-%d-%Y",
    "%d.%m.%y",
    "%Y%m%d",
    "%Y.%m.%d",
    "%d/%m/%y",
    "%m/%d/%y",
    "%y/%m/%d",
    "%d-%m-%y",
    "%m-%d-%y",
    "%Y年%m月%d日",
    "%d %b %Y",
    "%d-%b-%Y",
    "%b %d, %Y",
    "%d %B %Y",
    "%B %d, %Y",
    "%d-%b-%y",
    "%a %d %b %Y",
    "%a %d %B %Y",
    "%a, %d %b %Y",
    "%a, %d %B %Y",
    "%A %d %B %Y",
    "%A, %d %B %Y",
    "%A %d %b %Y",
    "%a %b %d, %Y",
    "%a, %b %d, %Y",
    "%A, %B %d, %Y",
    "%d. %B %Y",
    "%d. %b %Y",
    "%Y-%m-%d 00:00:00",
    "%Y-%m-%dT00:00:00",
)
_CLOCK_FORMS = (
    "%H:%M:%S%.f",
    "%H:%M",
    "%I:%M:%S %p",
    "%I:%M %p",
    "%I:%M:%S%p",
    "%I:%M%p",
    "%H.%M.%S",
    "%H.%M",
    "%H時%M分%S秒",
    "%H時%M分",
    "%Hh%M",
    "%Hh%M:%S",
    "%Hh%M.%S",
    "%Hh%Mm%Ss",
    "1899-12-31 %H:%M:%S",
)


def club_of(word: str) -> str:
    """Our club for an export's word; empty when it is none."""
    text = _club_text(word)
    if text.replace(" ", "-") in CLUBS:
        return text.replace(" ", "-")
    for turned in dict.fromkeys((text, " ".join(reversed(text.split())))):
        for form, club in _CLUB_FORMS:
            match = re.fullmatch(form, turned)
            if match:
                name = club.format(match[1]) if "{}" in club else club
                return name if name in CLUBS else ""
    return ""


def _club_text(word: str) -> str:
    """Lower case without accents, numbers and letters apart; Japanese names of clubs in Latin ones."""
    for name, latin in _JAPANESE:
        word = word.replace(name, latin)
    text = re.sub(r"\b(?:de|di|da|do|du|of|von|av|af)\b", " ", bare(word.replace("°", "").replace("º", "")))
    return re.sub(r"(\d+) ?(?:er|ste|e|a|o)\b", r"\1", " ".join(text.split())).strip()


def clubs_in(words: Sequence[str]) -> dict[str, str] | None:
    """Export's words to our clubs; None when fewer than half are clubs."""
    found = {word: club_of(word) for word in words}
    known = {word: club for word, club in found.items() if club}
    return known if known and 2 * len(known) >= len(found) else None


def _by_forms(series: pl.Series, forms: Sequence[str], *, day: bool) -> pl.DataFrame:
    """The series read by every form, a column each; null where a cell does not fit."""
    cell = pl.col(series.name).str
    read = (cell.to_date(form, strict=False) if day else cell.to_datetime(form, strict=False, time_unit="us") for form in forms)
    return series.to_frame().select([one.alias(form) for form, one in zip(forms, read, strict=True)])


def _reading(series: pl.Series, forms: Sequence[str], *, day: bool) -> dict[str, pl.Series]:
    """The series read by each of the forms that fit all its cells; most do not fit the first."""
    if not series.len():
        return {}
    first = _by_forms(series.head(1), list(dict.fromkeys(forms)), day=day).row(0, named=True)
    read = _by_forms(series, [form for form, one in first.items() if one is not None], day=day)
    return {one.name: one for one in read if not one.null_count() and one.dt.year().is_between(1990, 2100).all()}


def form_of(cells: Sequence[str], forms: Sequence[str]) -> str:
    """The first of these forms of days that reads all cells; empty when none does."""
    return _best_form(cells, forms, day=True)[0]


def _in_order(forms: Sequence[str], order: str) -> tuple[str, ...]:
    """The forms, without those that have day and month the other way round than it is known to be."""
    if order not in {"dmy", "mdy"}:
        return tuple(forms)
    other = "dmy" if order == "mdy" else "mdy"
    return tuple(form for form in forms if order_of(form) != other and not form.startswith("%y"))


def order_of(form: str) -> str:
    """``dmy``, ``mdy``, or empty where a form has neither."""
    letters = "".join(letter[0].lower() for letter in re.findall(r"%([dmbBYy])", form)).replace("b", "m")
    return letters if letters in {"dmy", "mdy"} else ""


def _best_form(cells: Sequence[str], forms: Sequence[str], *, day: bool) -> tuple[str, bool]:
    """The first form that fits, and whether no other reads the cells differently; empty when none fits."""
    fits = _reading(pl.Series("cell", list(dict.fromkeys(cells)), dtype=pl.String), forms, day=day)
    form, first = next(iter(fits.items()), ("", None))
    return (form, all(read.equals(first) for read in fits.values())) if first is not None else ("", False)


def days_of(cells: Sequence[str]) -> list[date] | None:
    """The days that cells name; None when they are not read in one way."""
    form, alone = day_form(cells)
    form, alone = (form, alone) if form else instant_form(cells)
    if not form or not alone:
        return None
    if form == "iso":
        return [date.fromisoformat(cell[:10]) for cell in cells]
    return None if form.startswith("epoch") else pl.Series(cells).str.to_datetime(form, strict=False).dt.date().to_list()


def day_form(cells: Sequence[str], order: str = "") -> tuple[str, bool]:
    """The form of days, and whether no other reads them differently; empty when none fits."""
    return _best_form(cells, _in_order(_DAY_FORMS, order), day=True)


def _halves(cells: Sequence[str]) -> list[str]:
    return [re.sub(r"(?i)\b([ap])\.\s?m\.?", r"\1m", cell) for cell in cells]


def clock_form(cells: Sequence[str]) -> str:
    """The form of times of day; empty when none fits."""
    _, end = _around_clock(cells)
    form, _ = _best_form(
        [f"2000-01-01 {cell}" for cell in _halves(cells)], [f"%Y-%m-%d {form}{end}" for form in _CLOCK_FORMS], day=False
    )
    return form.removeprefix("%Y-%m-%d ")


_CLOCK = re.compile(r"(?<!\d)\d{1,2}[:.h時]\d{2}(?:[:.分]\d{2}(?:\.\d+)?)?[秒分]?(?:\s?[ap]\.?\s?m\.?)?(?!\d)", re.IGNORECASE)


def _around_clock(cells: Sequence[str]) -> tuple[str, str]:
    """What stands between day and time of day, and behind it, in all cells alike: ``, `` and `` Uhr``."""
    found = set()
    for cell in cells:
        clock = list(_CLOCK.finditer(cell))
        if clock:
            before = re.search(r"[^\d日]*$", cell[: clock[-1].start()])
            found.add((before[0] if before else "", cell[clock[-1].end() :]))
    sign, end = found.pop() if len(found) == 1 else ("", "")
    return sign.replace("%", "%%"), end.replace("%", "%%")


def instant_form(cells: Sequence[str], order: str = "") -> tuple[str, bool]:
    """The form of a day with a time, and whether no other fits; ``iso`` when it is ours."""
    clean = _halves(cells)
    for form, digits in (("epoch s", 10), ("epoch ms", 13)):
        if clean and all(re.fullmatch(rf"[12]\d{{{digits - 1}}}(\.0)?", cell) for cell in clean):
            return form, True
    if clean and all(re.match(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d", cell) for cell in clean):
        return "iso", True
    sign, end = _around_clock(clean)
    days = _in_order(_DAY_FORMS, order)
    return _best_form(clean, [f"{day}{sign or ' '}{clock}{end}" for day in days for clock in _CLOCK_FORMS], day=False)


def side_words(cells: Sequence[str], told: Mapping[str, str] | None = None) -> tuple[list[str], list[str], list[str]] | None:
    """Words for plus and minus at the numbers of a column, and those that are not understood; None when there are none.

    Parameters
    ----------
    cells : sequence of str
    told : mapping, optional
        What words in lower case mean, where somebody has said it: ``plus``, ``minus``, or nothing.
    """
    found = {match[0].strip() for cell in cells for match in re.finditer(r"[^\W\d_]+\.?", cell)}
    words = {word for word in found if side_of(word) or not (unit_of(word) or unit_of(word.rstrip(".")))}
    if not words:
        return None
    sides = {word: (told or {}).get(word.lower(), side_of(word)) for word in sorted(words)}
    plus, minus = ([word for word, side in sides.items() if side == sign] for sign in ("plus", "minus"))
    return plus, minus, [word for word, side in sides.items() if side not in {"plus", "minus"}]


def is_numeric(cells: Sequence[str]) -> float:
    """Share of cells that hold one number, with or without a word at it."""
    number = re.compile(r"^\s*[^\W\d_]{0,6}\.?\s*[+\-−]?\d[\d.,' \u00a0\u202f]*\s*[^\d\s]{0,9}\s*$")
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


def is_summary(cell: str) -> bool:
    """Whether a cell says that its row is an average or a total."""
    return bare(cell) in listed_words("summary")


def names_summary(cell: str) -> bool:
    """Whether a short text has the word for an average or a total beside others: ``Block average``."""
    said = bare(cell).split()
    return 1 < len(said) <= _LONGEST_SUMMARY and any(word in listed_words("summary") for word in said)


def looks_dated(cell: str) -> bool:
    """Whether a cell is a day or a time of day rather than a number."""
    return bool(
        re.search(
            r"\d{1,4}[.\-/]\d{1,2}[.\-/]\d{1,4}|\d:\d|\d[. ]+[^\W\d_]{3,}\.?,? \d{2,4}|[^\W\d_]{3,} \d{1,2}, \d{4}|年\d", cell
        )
    )
