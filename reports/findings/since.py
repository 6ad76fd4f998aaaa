"""Sentences and cells on a return to normal: what is back within the usual band since a break or a change, and what is not."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.findings.flags import capital, metric_name, sided
from reports.findings.trend import change_text, ends_text
from reports.numbers import METRIC_QUANTITY

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from reports.numbers import Numbers
    from reports.words import Words

Row = dict[str, Any]

ORDER = ("club_speed_mps", "scatter_side_m", "aim_deg")
CALLED = ("not_back", "not_clear", "back", "no_session", "few_before", "few_since")
"""What a return can be called, in the order in which it is said: its state, else the reason why there is none."""


def called(row: Mapping[str, Any]) -> str:
    """State of the comparison, or why there is none."""
    return str(row["state"] or row["reason"])


def cause_phrase(row: Mapping[str, Any], words: Words) -> str:
    """``after 30 days without a known session``."""
    if row["cause"] != "break":
        return words(f"since.cause.{row['cause']}")
    return words("since.cause.break", days=words.count("since.cause.days", (row["since_on"] - row["until_on"]).days - 1))


def return_sentence(rows: Sequence[Row], words: Words) -> str:
    """Whether speed, scatter and direction are back, and since what; ``rows``: the newest of each quantity of one club."""
    states = {called(row) for row in rows}
    answer = "not_back" if "not_back" in states else "back" if states == {"back"} else "not_clear"
    return " ".join([words(f"since.answer.{answer}", cause=cause_phrase(rows[0], words)), *_said(rows, words)])


def _said(rows: Sequence[Row], words: Words) -> list[str]:
    """What is called what, what is not back first."""
    told = []
    for name in CALLED:
        named = [metric_name(row["metric"], words) for row in rows if called(row) == name]
        if named:
            told.append(words(f"since.said.{name}", what=words.listing(named)))
    return told


def earlier_sentence(rows: Sequence[Row], words: Words) -> str:
    """Of an earlier day what was known after the last session of its weeks."""
    last = max((row["on_date"] for row in rows if row["on_date"]), default=rows[0]["since_on"])
    day, until = words.short_day(rows[0]["since_on"]), words.short_day(last)
    said = " ".join(_said(rows, words))
    return words("since.earlier_item", day=day, cause=cause_phrase(rows[0], words), until=until, said=said)


def return_cells(row: Mapping[str, Any], numbers: Numbers) -> list[tuple[str, str]]:
    """Quantity, normal before, last sessions, change, usual band, state, first session within: each with what stands below it."""
    words, metric = numbers.words, row["metric"]
    change = change_text(metric, row["change"], numbers)
    first = row["first_back_on"]
    interval = "" if row["change"] is None else ends_text(row, "change_low", "change_high", metric, numbers)
    return [
        (capital(metric_name(metric, words)), ""),
        _with_n(metric, row["normal"], row["n_before"], numbers),
        _with_n(metric, row["level"], row["n_level"], numbers),
        (change, interval),
        (_band(metric, row["worthwhile"], numbers), ""),
        (words(f"since.state.{called(row)}"), ""),
        (words.short_day(first) if first else words("since.not_yet"), ""),
    ]


def _band(metric: str, worthwhile: float | None, numbers: Numbers) -> str:
    """How far from the normal is usual: of a ratio less downward than upward, as the state beside it takes it."""
    if worthwhile is None:
        return numbers.words("since.band", band=change_text(metric, None, numbers))
    low, high = (change_text(metric, end, numbers) for end in (-worthwhile, worthwhile))
    if low[1:] == high[1:]:
        return numbers.words("since.band", band=high.lstrip("+"))
    return numbers.words("numbers.interval", low=low, high=high)


def session_cell(row: Mapping[str, Any] | None, numbers: Numbers) -> str:
    """One session's value, and what was known after it: the change of the last sessions, and its state."""
    if row is None:
        return numbers.bare("percent", None)
    metric, words = row["metric"], numbers.words
    value = value_text(metric, row["value"], numbers)
    if row["change"] is None:
        return value
    return words(
        "since.cell",
        value=value,
        change=change_text(metric, row["change"], numbers),
        state=words(f"since.state.{called(row)}"),
    )


def value_text(metric: str, value: float | None, numbers: Numbers) -> str:
    """A value in the reader's units; of direction with its side."""
    quantity = METRIC_QUANTITY[metric]
    return sided(numbers, quantity, value) if metric == "aim_deg" else numbers.with_unit(quantity, value)


def _with_n(metric: str, value: float | None, n: int, numbers: Numbers) -> tuple[str, str]:
    if value is None:
        return numbers.bare("percent", None), ""
    return value_text(metric, value, numbers), numbers.words.count("n.sessions", n)


def own_return_sentence(rows: Sequence[Row], words: Words) -> str:
    """To the player, that the speed is back; empty where that is not shown."""
    speed = next((row for row in rows if row["metric"] == "club_speed_mps" and row["state"] == "back"), None)
    if speed is None:
        return ""
    key = "break" if speed["cause"] in {"break", "pause"} else "change"
    return words(f"own.good.back_{key}", day=words.short_day(speed["since_on"]))
