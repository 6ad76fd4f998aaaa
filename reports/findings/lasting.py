"""Sentences and cells on what lasts: a level now against the first normal or a year ago, with total change, interval and n."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.findings.flags import capital, club_name, metric_name, region_name, sided
from reports.findings.trend import change_text, end_text, relative_pct
from reports.numbers import METRIC_QUANTITY

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from reports.numbers import Numbers

_BEHIND = {"strokes": "drives", "week_swings": "weeks", "stiffness": "answers"}
"""What stands behind the levels of a metric; sessions behind all others."""


def against_phrase(row: Mapping[str, Any], numbers: Numbers) -> str:
    """``the first normal (3 Mar 2025)``; of strokes, which are told by month, ``6 to 12 months ago (until March 2025)``."""
    words = numbers.words
    if _metric(row) == "strokes":
        return words(f"lasting.{row['against']}_strokes", month=words.month(row["then_on"]))
    return words(f"lasting.{row['against']}", day=words.short_day(row["then_on"]))


def what_lasts(row: Mapping[str, Any], numbers: Numbers) -> str:
    """The quantity, with its club or region."""
    words, metric = numbers.words, _metric(row)
    place = row.get("place") or region_name(row.get("region") or "", words)
    part = place if metric == "stiffness" else club_name(row["club_group"], words)
    return capital(", ".join(text for text in (metric_name(metric, words), part) if text))


def lasting_cells(row: Mapping[str, Any], numbers: Numbers) -> list[str]:
    """Quantity, comparison, then, now, total change, its 90 % interval, and n."""
    metric = _metric(row)
    low, high = (_end(metric, row[name], numbers) for name in ("change_low", "change_high"))
    return [
        what_lasts(row, numbers),
        against_phrase(row, numbers),
        _level(metric, row["then_level"], numbers),
        _level(metric, row["now_level"], numbers),
        _change(metric, row["change"], numbers),
        numbers.words("numbers.interval", low=low, high=high),
        _behind(row, numbers),
    ]


def lasting_sentences(rows: Iterable[Mapping[str, Any]], numbers: Numbers) -> list[str]:
    """What lasts of load and of stiffness, beside what is said of the last days."""
    return [_sentence(row, numbers) for row in rows]


def _sentence(row: Mapping[str, Any], numbers: Numbers) -> str:
    words, metric = numbers.words, _metric(row)
    cells = dict(zip(("what", "against", "then", "now", "change", "interval", "n"), lasting_cells(row, numbers), strict=True))
    return words(f"lasting.now_{metric}", **cells)


def _level(metric: str, value: float | None, numbers: Numbers) -> str:
    quantity = METRIC_QUANTITY[metric]
    return sided(numbers, quantity, value) if metric == "aim_deg" else numbers.with_unit(quantity, value)


def _metric(row: Mapping[str, Any]) -> str:
    return "stiffness" if row.get("region") else str(row["metric"])


def _change(metric: str, value: float, numbers: Numbers) -> str:
    if metric == "week_swings":
        return numbers.with_unit("percent", relative_pct(value), signed=True)
    if metric == "strokes":
        return numbers.words("ball.strokes", n=numbers.words.number(value, 1, signed=True))
    if metric == "stiffness":
        return numbers.with_unit(METRIC_QUANTITY[metric], value, signed=True)
    return change_text(metric, value, numbers)


def _end(metric: str, value: float, numbers: Numbers) -> str:
    if metric == "week_swings":
        return numbers.end_with_unit("percent", relative_pct(value))
    if metric == "strokes":
        return numbers.words("ball.strokes", n=numbers.words.end(value, 1))
    return numbers.end_with_unit("rating", value) if metric == "stiffness" else end_text(metric, value, numbers)


def _behind(row: Mapping[str, Any], numbers: Numbers) -> str:
    then, now = (numbers.words.number(row[name], 0) for name in ("n_then", "n_now"))
    return numbers.words(f"lasting.n_{_BEHIND.get(_metric(row), 'sessions')}", then=then, now=now)
