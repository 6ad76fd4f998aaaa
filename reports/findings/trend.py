"""Sentences about a trend: is it up, down or flat beyond noise, and since when is the level what it is."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Literal

from reports.findings.flags import capital, metric_name, sided
from reports.numbers import METRIC_QUANTITY, beside_unit
from reports.words import NARROW_SPACE
from schemas.trend_metrics import TREND_METRICS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from reports.numbers import Numbers

CLEAR = 0.9
"""Probability from which a change, or its absence, is called clear."""

Verdict = Literal["past", "learning", "up", "down", "flat", "open"]


def verdict(row: Mapping[str, Any]) -> Verdict:
    """What the 28-day change of a row of ``mart_trend`` can be called; never against the interval that is printed beside it.

    ``past``: the newest session lies 28 days and more back, so that nothing can be said of the last four weeks.
    """
    if row.get("is_past"):
        return "past"
    if row["change_28"] is None or row["state"] == "learning":
        return "learning"
    if row["p_better"] is not None and row["p_better"] >= CLEAR and row["change_28_low"] > 0:
        return "up"
    if row["p_worse"] is not None and row["p_worse"] >= CLEAR and row["change_28_high"] < 0:
        return "down"
    return "flat" if row["p_trivial"] is not None and row["p_trivial"] >= CLEAR else "open"


def relative_pct(value: float) -> float:
    """Per cent by which now lies above then, from 100 times the logarithm of their ratio: doubled is 100 %, not 69 %."""
    return 100.0 * math.expm1(value / 100.0)


def change_text(metric: str, value: float | None, numbers: Numbers) -> str:
    """A change in the metric's change unit: ``+1.8 %``, ``−0.4°``, ``+5.0 points``."""
    if value is None:
        return numbers.bare("percent", None)
    if TREND_METRICS[metric].is_relative:
        return f"{numbers.words.number(relative_pct(value), 1, signed=True)}{NARROW_SPACE}%"
    if TREND_METRICS[metric].change_unit == "points":
        return numbers.with_unit("points", value, signed=True)
    return numbers.with_unit(METRIC_QUANTITY[metric], value, signed=True)


def end_text(metric: str, value: float | None, numbers: Numbers) -> str:
    """An end of the interval of a change, in the metric's change unit; one that is not zero is never printed as zero."""
    if value is None:
        return numbers.bare("percent", None)
    how = TREND_METRICS[metric]
    if how.is_relative:
        return numbers.end_with_unit("percent", relative_pct(value))
    return numbers.end_with_unit("points" if how.change_unit == "points" else METRIC_QUANTITY[metric], value)


def ends_text(row: Mapping[str, Any], low: str, high: str, metric: str, numbers: Numbers) -> str:
    """``−0.6 % to +0.7 %``: the interval of a change of which a row has the ends."""
    ends = {"low": end_text(metric, row[low], numbers), "high": end_text(metric, row[high], numbers)}
    return numbers.words("numbers.interval", **ends)


def change_interval(row: Mapping[str, Any], numbers: Numbers) -> str:
    """The 90 % interval of the change over 28 days."""
    return ends_text(row, "change_28_low", "change_28_high", row["metric"], numbers)


def level_text(row: Mapping[str, Any], numbers: Numbers) -> str:
    """The level with its interval."""
    quantity = METRIC_QUANTITY[row["metric"]]
    if row["metric"] == "aim_deg":
        return sided(numbers, quantity, row["level"])
    return numbers.estimate(quantity, row["level"], row["level_low"], row["level_high"])


def trend_sentence(row: Mapping[str, Any], numbers: Numbers) -> str:
    """What the last row of a trend says: level, change over 28 days, and whether it is beyond noise.

    Parameters
    ----------
    row : mapping
        A row of ``mart_trend``.
    numbers : Numbers
    """
    words = numbers.words
    called = verdict(row)
    values = {
        "metric": metric_name(row["metric"], words),
        "level": level_text(row, numbers),
        "day": words.day(row["on_date"]),
        "change": change_text(row["metric"], row["change_28"], numbers),
        "interval": change_interval(row, numbers),
        "worthwhile": change_text(row["metric"], row["worthwhile"], numbers).lstrip("+"),
    }
    if called == "learning":
        return capital(words.count("trend.learning", row["usual_n"], **values))
    return capital(words(f"trend.{_told_as(row, called)}", **values)) + (now_sentence(row, numbers) if called == "past" else "")


def now_sentence(row: Mapping[str, Any], numbers: Numbers, key: str = "trend.now") -> str:
    """Where a level of the past may lie by now, after a space; empty where that is not known."""
    return "" if row.get("now_low") is None else " " + numbers.words(key, interval=_now_interval(row, numbers))


def _now_interval(row: Mapping[str, Any], numbers: Numbers) -> str:
    quantity = METRIC_QUANTITY[row["metric"]]
    return beside_unit(numbers.interval(quantity, row["now_low"], row["now_high"]), numbers.unit(quantity))


def level_now_texts(row: Mapping[str, Any], numbers: Numbers) -> tuple[str, str]:
    """The level with its interval; beside one of the past its day, and where it may lie by now."""
    level = level_text(row, numbers)
    if row.get("now_low") is None:
        return level, ""
    day = numbers.words.day(row["on_date"])
    return level, numbers.words("trend.level_past", day=day, interval=_now_interval(row, numbers))


def is_apart(row: Mapping[str, Any]) -> bool:
    """Whether the interval of the 28-day change leaves out zero; it may still be less than is worth calling a change."""
    return bool(row["change_28_low"] > 0.0 or row["change_28_high"] < 0.0)


def _told_as(row: Mapping[str, Any], called: Verdict) -> str:
    """The text of a verdict: where the interval leaves out zero, none says that nothing is seen."""
    if called == "open" and row["state"] == "stalled":
        return "stalled"
    if called == "flat" and is_apart(row):
        return "flat_small"
    if called != "open" or not is_apart(row):
        return called
    return "open_more" if row["change_28_low"] > 0.0 else "open_less"


def own_sentence(row: Mapping[str, Any], numbers: Numbers) -> str:
    """The same in plain words, for the player: what it is now, whether it has changed in four weeks, and how sure that is."""
    words, quantity = numbers.words, METRIC_QUANTITY[row["metric"]]
    values = {
        "metric": metric_name(row["metric"], words),
        "day": words.day(row["on_date"]),
        "level": numbers.with_unit(quantity, row["level"]),
        "give": _level_give(row, numbers),
        "change": change_text(row["metric"], row["change_28"], numbers),
        "change_give": _give(row, numbers),
    }
    told_as = _told_as(row, verdict(row))
    called = told_as if told_as in {"open_more", "open_less", "stalled"} else verdict(row)
    return capital(words(f"trend_own.{called}", **values)) + now_sentence(row, numbers, "trend_own.now")


def _level_give(row: Mapping[str, Any], numbers: Numbers) -> str:
    """How well the level is known: give or take one number, or both ends where that number would not lead to them."""
    quantity, half = METRIC_QUANTITY[row["metric"]], (row["level_high"] - row["level_low"]) / 2
    ends = ((row["level"] - half, row["level_low"]), (row["level"] + half, row["level_high"]))
    if all(numbers.apart(quantity, *pair) <= numbers.step(quantity) for pair in ends):
        return numbers.words("trend_own.give", give=numbers.with_unit(quantity, half))
    interval = beside_unit(numbers.interval(quantity, row["level_low"], row["level_high"]), numbers.unit(quantity))
    return numbers.words("trend_own.between", interval=interval)


def _give(row: Mapping[str, Any], numbers: Numbers) -> str:
    """Half of the interval of the change, as ``give or take``."""
    if row["change_28"] is None:
        return numbers.bare("percent", None)
    half = (row["change_28_high"] - row["change_28_low"]) / 2
    return change_text(row["metric"], half, numbers).lstrip("+")


def since_sentence(then: Mapping[str, Any], metric: str, numbers: Numbers) -> str:
    """Level then and now, far apart in time, with the total change and whether it lasts; ``then``: a row of ``mart_lasting``."""
    words, quantity = numbers.words, METRIC_QUANTITY[metric]
    more, less = ("right", "left") if metric == "aim_deg" else ("more", "less")
    apart = then["change_low"] > 0.0 or then["change_high"] < 0.0
    way = (more if then["change"] > 0 else less) if then["lasts"] else "small" if apart else "same"
    before = then["then_level"]
    now = before * math.exp(then["change"] / 100.0) if TREND_METRICS[metric].is_relative else before + then["change"]
    return words(
        f"trend.since_{way}",
        day=words.day(then["then_on"]),
        before=sided(numbers, quantity, before) if metric == "aim_deg" else numbers.with_unit(quantity, before),
        now=sided(numbers, quantity, now) if metric == "aim_deg" else numbers.with_unit(quantity, now),
        change=change_text(metric, then["change"], numbers),
        interval=ends_text(then, "change_low", "change_high", metric, numbers),
    )
