"""Two players, or two seasons of one, side by side: what was measured, and the difference with its interval or why there is none.

A season is a span of twelve months counted back from the newest day; the first of a player may be shorter. Values are those of
the marts, rounded as they are printed, and a difference is that of the printed numbers, so that a reader can check it. Its
interval runs from the lowest end of the one less the highest of the other; it holds the true difference at least as often as
each interval holds its value, whether or not the errors of the two go together.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from operator import itemgetter
from typing import TYPE_CHECKING, Any

from reports.findings.ball import course_phrase
from reports.findings.flags import capital, metric_name
from reports.findings.load_body import WEEK_KNOWN

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date

    from reports.numbers import Numbers

Row = dict[str, Any]
SEASONS, WEEKS, WHOLE = 3, 52, 12
"""Seasons that are looked back on, and weeks and months of a whole one."""

STROKES, SWINGS = "strokes", "week_swings"
STROKE_DIGITS = 1


@dataclass(frozen=True)
class Measure:
    """One row of the comparison.

    Attributes
    ----------
    key : str
        A metric of trends, ``strokes`` or ``week_swings``.
    quantity : str
        How it is shown.
    counted : str
        Word key of what ``n`` counts.
    """

    key: str
    quantity: str
    counted: str

    @property
    def has_interval(self) -> bool:
        """Whether it is estimated; what is counted has no interval."""
        return self.key != SWINGS


MEASURES: tuple[Measure, ...] = (
    Measure("club_speed_mps", "speed", "n.sessions"),
    Measure("ball_speed_mps", "speed", "n.sessions"),
    Measure("comparable_carry_m", "carry", "n.sessions"),
    Measure("scatter_side_m", "spread", "n.sessions"),
    Measure("scatter_long_m", "spread", "n.sessions"),
    Measure(STROKES, "strokes", "side.drives"),
    Measure(SWINGS, "count", "side.weeks"),
)


@dataclass(frozen=True)
class Value:
    """A number in the unit shown, rounded as it is printed, with its 90 % interval and how many stand behind it.

    ``against``: what it is counted against, where that differs between players: strokes by course and standard.
    """

    value: float
    low: float | None
    high: float | None
    n: int
    against: str = ""


@dataclass(frozen=True)
class Season:
    """Twelve months of one player, or as many as there are.

    Attributes
    ----------
    back : int
        0: the newest.
    from_on, to_on : date
        Days of the first and the last session in them.
    values : dict of str to Value
        By key of the measure; a key that is not there was not measured.
    n_months : int
        How many months it spans, at most 12; less only where the player's first session lies in it.
    """

    back: int
    from_on: date
    to_on: date
    values: dict[str, Value]
    n_months: int = WHOLE


@dataclass(frozen=True)
class Difference:
    """First less second; without ends where one of the two has none."""

    value: float
    low: float | None
    high: float | None

    @property
    def is_clear(self) -> bool:
        """Whether the interval leaves out zero."""
        return self.low is not None and self.high is not None and (self.low > 0 or self.high < 0)


def digits(measure: Measure, numbers: Numbers) -> int:
    """Decimals with which a measure is printed."""
    return STROKE_DIGITS if measure.key == STROKES else numbers.quantity(measure.quantity).digits


def named(measure: Measure, course: str, numbers: Numbers) -> str:
    """What a row is called."""
    words = numbers.words
    if measure.key == STROKES:
        return words("side.strokes", course=course_phrase(course, words))
    return words("side.swings") if measure.key == SWINGS else capital(metric_name(measure.key, words))


def said_name(measure: Measure, course: str, numbers: Numbers) -> str:
    """The same within a sentence: of a metric as the words file has it, for German nouns are large and adjectives are not."""
    if measure.key in {STROKES, SWINGS}:
        name = named(measure, course, numbers)
        return name[:1].lower() + name[1:] if numbers.words.language == "en" else name
    return metric_name(measure.key, numbers.words)


def _value(
    measure: Measure, numbers: Numbers, ends: tuple[float | None, float | None, float | None], n: int, against: str = ""
) -> Value | None:
    factor, places = numbers.quantity(measure.quantity).factor, digits(measure, numbers)
    value, low, high = (None if end is None else round(end * factor, places) + 0.0 for end in ends)
    return None if value is None else Value(value, low, high, n, against)


def comparable(first: Value, second: Value) -> bool:
    """Whether a difference tells of the two players: strokes of other courses or standards differ whatever the drives did."""
    return first.against == second.against


def _of_strokes(months: Sequence[Row]) -> dict[int, tuple[tuple[float | None, float | None, float | None], int, str]]:
    """By season, the last month with drives: months are counted back from the newest."""
    ordered = sorted(months, key=itemgetter("month_on"))
    newest = _month_no(ordered[-1]) if ordered else 0
    last = {(newest - _month_no(row)) // WHOLE: row for row in ordered}
    return {
        back: (
            (row["per_round"], row["per_round_low"], row["per_round_high"]),
            row["n_shots"],
            f"{row['course']}, {row['standard']}",
        )
        for back, row in last.items()
    }


def _month_no(row: Row) -> int:
    return int(row["month_on"].year * 12 + row["month_on"].month)


@dataclass(frozen=True)
class KnownWeeks:
    """Weeks of a season whose swings are known on at least five days, and how many weeks the season has."""

    rows: tuple[Row, ...]
    n_all: int


def known_weeks(weeks: Sequence[Row]) -> dict[int, KnownWeeks]:
    """Weeks that are known, by the season in which they lie, counted back from the newest of them.

    A season is left out where that is less than half of its weeks: where days without a session have no row, those that are known
    are the busy ones, and their mean is no usual week.
    """
    known = [row for row in weeks if row["n_days_known"] >= WEEK_KNOWN and row["swings_all"] is not None]
    known.sort(key=itemgetter("week_starting"))
    found: dict[int, list[Row]] = {}
    for row in known:
        found.setdefault(_seasons_back(row, known[-1]), []).append(row)
    told = {back: KnownWeeks(tuple(rows), _span([row for row in weeks if _seasons_back(row, known[-1]) == back]))
            for back, rows in found.items()}  # fmt: skip
    return {back: one for back, one in told.items() if 2 * len(one.rows) >= one.n_all}


def _span(weeks: Sequence[Row]) -> int:
    """Weeks from the first to the last, those without a row too."""
    days = [row["week_starting"] for row in weeks]
    return int((max(days) - min(days)).days) // 7 + 1


def _seasons_back(week: Row, newest: Row) -> int:
    """Weeks after the newest that is known are of its season."""
    return max(0, int((newest["week_starting"] - week["week_starting"]).days) // (7 * WEEKS))


def mean_swings(weeks: Sequence[Row]) -> float:
    """Swings a week."""
    return float(sum(row["swings_all"] for row in weeks) / len(weeks))


def seasons(levels: Sequence[Row], months: Sequence[Row], weeks: Sequence[Row], numbers: Numbers) -> list[Season]:
    """The last three seasons of one player, newest first; only those with a driver session.

    Parameters
    ----------
    levels : sequence of dict
        The player's rows of ``mart_season_level``.
    months : sequence of dict
        The player's rows of ``mart_stroke_month`` on the course that counts.
    weeks : sequence of dict
        The player's rows of ``mart_load_week``; empty where the reader does not see load.
    numbers : Numbers
    """
    strokes, swings = _of_strokes(months), known_weeks(weeks)
    found = []
    for back in range(SEASONS):
        rows = {row["metric"]: row for row in levels if row["seasons_back"] == back}
        if not rows:
            continue
        first = rows.get("club_speed_mps") or next(iter(rows.values()))
        values = {measure.key: _measured(measure, rows, strokes.get(back), numbers) for measure in MEASURES}
        if of_season := swings.get(back):
            values[SWINGS] = _value(MEASURES[-1], numbers, (mean_swings(of_season.rows), None, None), len(of_season.rows))
        known = {key: value for key, value in values.items() if value is not None}
        found.append(Season(back, first["from_on"], first["on_date"], known))
    return [*found[:-1], _first(found[-1], found[0].to_on)] if found else []


def _first(season: Season, newest_on: date) -> Season:
    """The oldest season with the months in which it lies, from that of its first session to where the next season begins."""
    months = 12 * (newest_on.year - season.from_on.year) + newest_on.month - season.from_on.month + 1 - season.back * WHOLE
    return replace(season, n_months=min(WHOLE, max(1, months)))


def _measured(measure: Measure, rows: dict[str, dict[str, Any]], strokes: Any, numbers: Numbers) -> Value | None:
    if measure.key == STROKES:
        return _value(measure, numbers, *strokes) if strokes else None
    row = rows.get(measure.key)
    return level_value(measure, row, numbers) if row else None


def level_value(measure: Measure, row: Mapping[str, Any], numbers: Numbers) -> Value | None:
    """The level of a row of ``mart_season_level`` as it is printed."""
    return _value(measure, numbers, (row["level"], row["level_low"], row["level_high"]), row["n_sessions"])


def difference(first: Value, second: Value, places: int) -> Difference:
    """First less second, of the printed numbers."""
    ends = (first.low, first.high, second.low, second.high)
    value = round(first.value - second.value, places) + 0.0
    if None in ends:
        return Difference(value, None, None)
    low, high = round(first.low - second.high, places) + 0.0, round(first.high - second.low, places) + 0.0  # type: ignore[operator]
    return Difference(value, low, high)


def span(season: Season, numbers: Numbers) -> str:
    """``Oct 2025 to Sep 2026``: from its first session to its last."""
    words = numbers.words
    first, last = words.short_month(season.from_on), words.short_month(season.to_on)
    return first if first == last else words("numbers.interval", low=first, high=last)


def said(first: Season, second: Season, course: str, numbers: Numbers) -> str:
    """What differs clearly between two seasons, what does not, and what cannot be compared: a sentence each, none where empty."""
    words = numbers.words
    groups: dict[str, list[str]] = {"clear": [], "open": [], "cannot": [], "apart": []}
    for measure in MEASURES:
        one, other = first.values.get(measure.key), second.values.get(measure.key)
        name = said_name(measure, course, numbers)
        if one is None or other is None:
            if one is not other:
                groups["cannot"].append(name)
            continue
        if not measure.has_interval:
            continue
        if not comparable(one, other):
            groups["apart"].append(name)
            continue
        places = digits(measure, numbers)
        found = difference(one, other, places)
        unit = numbers.unit(measure.quantity)
        amount = f"{words.number(found.value, places, signed=True)}\N{NARROW NO-BREAK SPACE}{unit}"
        if found.is_clear:
            groups["clear"].append(words("side.item", name=name, amount=amount))
        else:
            groups["open"].append(name)
    parts = [words(f"side.{key}", items=words.listing(items)) for key, items in groups.items() if items]
    return " ".join(parts) or words("side.nothing")
