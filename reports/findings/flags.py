"""The sentence of a flag: what was found, against what, with number and unit.

``row`` holds the columns of ``mart_flag``. The sentence has no subject: the page puts the player's name before it, the
command line the player's id.
"""

from __future__ import annotations

import math
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

from reports.findings.ball import course_phrase
from reports.findings.order import GOOD, is_good
from reports.numbers import METRIC_QUANTITY, Numbers, beside_unit
from schemas.trend_metrics import TREND_METRICS

if TYPE_CHECKING:
    from collections.abc import Mapping

    from reports.words import Words
    from schemas.academy import Units

SIDED = frozenset({"aim_deg", "direction_deg", "path_deg", "face_deg", "offline_m"})
"""Metrics whose sign is a side: right of target is positive."""

WEEK_DAYS = 7


_KIND_QUANTITY = {
    **dict.fromkeys(("load_jump", "load_flat", "quiet", "plan_gap", "problem_report", "overuse_pattern"), "count"),
    "answers_fewer": "count",
    **dict.fromkeys(("speed_fall", "speed_rise", "speed_stall"), "speed"),
    "wild_rise": "percent",
}
"""How the numbers of a kind are shown when its metric does not say."""


_BEHIND = {
    **dict.fromkeys(("speed_fall", "speed_rise", "speed_stall", "scatter_rise", "scatter_fall", "aim_shift"), "sessions"),
    "wild_rise": "sessions",
    **dict.fromkeys(("transfer_loss", "speed_cost", "strokes_worse", "strokes_better"), "shots"),
    **dict.fromkeys(("body_stiff", "body_fatigue"), "answers"),
    "load_jump": "days",
    "problem_report": "forms",
    "device_shift": "device",
}
"""What stands behind the numbers of a kind; kinds that are not here say it in their sentence."""


OF_ITS_DAY = frozenset({"load_jump", "load_flat", "answers_fewer", "plan_gap", "overuse_pattern"})
"""Kinds that tell of a span of days up to the night of their numbers, and whose value is not followed from then on."""

STROKE_KINDS = frozenset({"speed_cost", "strokes_worse", "strokes_better"})
"""Kinds whose value is a change of strokes a round."""


def capital(text: str) -> str:
    """The text with its first letter large."""
    return text[:1].upper() + text[1:]


def metric_name(metric: str, words: Words) -> str:
    """The metric in words; a code that we do not know stands as it is."""
    return words.either(f"metric.{metric}", metric.replace("_", " ")) if metric else ""


def club_name(group: str, words: Words) -> str:
    """The group of clubs in words."""
    return words.either(f"club_group.{group}", group)


def next_step(row: Mapping[str, Any], audience: str, words: Words) -> str:
    """Who does what about a finding, in one line; empty where that reader does nothing.

    A gain that is not sure yet can wait, and so can a notice of which less than half is likely to be real.
    """
    name = row["kind"] if is_good(row) or row["kind"] not in GOOD else "not_sure"
    key = f"todo.{audience}.{'not_clear' if name == row['kind'] and _is_mostly_luck(row) else name}"
    return words(key, club=club_name(str(row.get("club_group") or ""), words)) if key in words else ""


def region_name(region: str, words: Words) -> str:
    """The region of the body in words."""
    return words.either(f"region.{region}", region.replace("_", " "))


def _quantity(row: Mapping[str, Any]) -> str:
    kind, metric = str(row["kind"]), str(row.get("metric") or "")
    return "strokes" if kind in STROKE_KINDS else METRIC_QUANTITY.get(metric, _KIND_QUANTITY.get(kind, "rating"))


def sided(numbers: Numbers, quantity: str, value: float | None) -> str:
    """A value with its side: ``4.2 yd right``; what is printed as zero has none."""
    if value is None:
        return numbers.bare(quantity, None)
    side = "numbers.right" if value > 0 else "numbers.left"
    text = numbers.with_unit(quantity, abs(value))
    return text if text == numbers.with_unit(quantity, 0.0) else numbers.words(side, value=text)


def _share(value: float | None, baseline: float | None, words: Words) -> str:
    if value is None or not baseline:
        return ""
    return words.number(abs(value / baseline - 1) * 100, 0)


def _values(row: Mapping[str, Any], numbers: Numbers) -> dict[str, str]:
    words, quantity = numbers.words, _quantity(row)
    value, baseline = row.get("value"), row.get("baseline")
    metric = str(row.get("metric") or "")
    show = sided if metric in SIDED else Numbers.with_unit
    both = value is not None and baseline is not None
    change = abs(value - baseline) if value is not None and baseline is not None else None
    return {
        "metric": metric_name(metric, words),
        "club": club_name(str(row.get("club_group") or ""), words),
        "region": region_name(str(row.get("region") or ""), words),
        "place": words("flag.place", region=region_name(str(row["region"]), words)) if row.get("region") else "",
        "device": str(row.get("device_id") or words("flag.unnamed_device")),
        "value": show(numbers, quantity, value),
        "baseline": show(numbers, quantity, baseline),
        "change": numbers.with_unit(quantity, change),
        "share": _share(value, baseline, words),
        "n": numbers.bare("count", row.get("n")),
        "last": _last_heard(row, words),
        "amount": _strokes(value, words) if quantity == "strokes" else numbers.with_unit(quantity, _size(value)),
        "course": course_phrase(row["course"], words) if row.get("course") else words("flag.its_course"),
        "side": words("numbers.to_right" if both and (value or 0) > (baseline or 0) else "numbers.to_left"),
    }


def _detail(row: Mapping[str, Any], code: str) -> str:
    """What a reason ``code=detail`` holds; empty where there is none."""
    found = (str(reason).partition("=") for reason in row.get("reasons") or [])
    return next((detail for name, _, detail in found if name == code), "")


def _reason(row: Mapping[str, Any], code: str) -> float | None:
    """The number of a reason ``code=number``; None where there is none."""
    detail = _detail(row, code)
    return float(detail) if detail else None


def scaled_sentence(known: int | None, words: Words) -> str:
    """That a week's number is scaled up from fewer days than seven, after a space; empty where all are known."""
    return "" if known is None or known >= WEEK_DAYS else " " + words("load.scaled", known=known, all=WEEK_DAYS)


def _scaled(row: Mapping[str, Any], words: Words) -> str:
    """That a week's swings are scaled up from the days that are known."""
    known = _reason(row, "known")
    return "" if known is None else scaled_sentence(int(known), words)


def _moved(row: Mapping[str, Any], words: Words) -> str:
    """On which day a suspected device moved, if it did, or between which."""
    earliest, latest = (_detail(row, code) for code in ("earliest", "latest"))
    if not (earliest and latest):
        return ""
    first, last = (words.day(date.fromisoformat(day)) for day in (earliest, latest))
    return " " + (words("flag.moved_on", day=first) if first == last else words("flag.moved_between", first=first, last=last))


def _likely(row: Mapping[str, Any], numbers: Numbers) -> str:
    """How much of the change is likely to be real: flags pick the largest, and what was seen of them is too large."""
    likely, baseline, value = _still_likely(row), row.get("baseline"), row.get("value")
    metric = str(row.get("metric") or "")
    if likely is None or baseline is None or value is None or metric not in TREND_METRICS:
        return ""
    amount = abs(baseline * math.expm1(likely / 100.0)) if TREND_METRICS[metric].is_relative else abs(likely)
    quantity = "points" if TREND_METRICS[metric].change_unit == "points" else _quantity(row)
    amount = min(amount, numbers.apart(_quantity(row), value, baseline))
    text, nothing = (numbers.with_unit(quantity, one) for one in (amount, 0.0))
    return " " + (numbers.words("flag.likely_none") if text == nothing else numbers.words("flag.likely", amount=text))


def _still_likely(row: Mapping[str, Any]) -> float | None:
    """What the flag calls likely; of an open notice less with every session that has not made an alert of it."""
    likely, share = _reason(row, "likely"), row.get("now_share")
    is_open = row.get("closed_on") is None
    return likely if likely is None or share is None or not is_open else likely * share


def _is_mostly_luck(row: Mapping[str, Any]) -> bool:
    """Whether a notice says itself that less than half of its change is likely to be real."""
    likely, baseline, value, metric = _still_likely(row), row.get("baseline"), row.get("value"), str(row.get("metric") or "")
    if row["level"] != "notice" or likely is None or not baseline or value is None or metric not in TREND_METRICS:
        return False
    is_relative = TREND_METRICS[metric].is_relative and value / baseline > 0
    seen = 100.0 * math.log(value / baseline) if is_relative else value - baseline
    return bool(abs(likely) < abs(seen) / 2.0)


def _retest(row: Mapping[str, Any], words: Words) -> list[str]:
    """How many further sessions would settle it."""
    if _reason(row, "likely") is None:
        return []
    n = _reason(row, "retest")
    return [words("flag.retest_many") if n is None else words.count("flag.retest", int(n))]


def _size(value: float | None) -> float | None:
    return None if value is None else abs(value)


def _strokes(value: float | None, words: Words) -> str:
    """A number of strokes to one decimal without its sign, as every page has it."""
    return "" if value is None else words("ball.strokes", n=words.number(abs(value), 1))


def _interval(row: Mapping[str, Any], low: float, high: float, numbers: Numbers) -> str:
    """Low to high with unit, to as many decimals as the sentence has."""
    words, quantity = numbers.words, _quantity(row)
    if str(row.get("metric") or "") in SIDED:
        ends = {"low": low, "high": high}
        return words("numbers.interval", **{name: sided(numbers, quantity, end) for name, end in ends.items()})
    if quantity == "strokes":
        return _strokes_interval(low, high, numbers)
    return beside_unit(numbers.interval(quantity, low, high), numbers.unit(quantity))


def _intervals(row: Mapping[str, Any], numbers: Numbers) -> str:
    """The interval of the flag's own day, and beside it that of today where the sentence has the value of today."""
    words, then = numbers.words, _interval(row, row["low"], row["high"], numbers)
    low, high = row.get("now_low"), row.get("now_high")
    if low is None or high is None or not _is_told_now(row, numbers):
        return words("flag.interval", interval=then)
    key = "flag.interval_last" if row.get("now_is_past") else "flag.interval_now"
    return words(key, interval=then, now_on=words.day(row["now_on"]), now=_interval(row, low, high, numbers))


def _strokes_interval(low: float, high: float, numbers: Numbers) -> str:
    """Low to high in strokes to one decimal; of strokes saved without their signs, as the sentence above it has them."""
    words, is_less = numbers.words, high < 0
    ends = (-high, -low) if is_less else (low, high)
    text = words("numbers.interval", **{name: words.number(end, 1) for name, end in zip(("low", "high"), ends, strict=True)})
    text = beside_unit(text, numbers.unit("strokes"))
    return words("flag.interval_less", interval=text) if is_less else text


def _today(row: Mapping[str, Any], numbers: Numbers) -> str:
    """Of which day the numbers of an open flag are, and the value of today; empty where it reads alike or is not known.

    What tells of a span of days that has gone by is of its day for good, also when the flag is closed.
    """
    words, now, said_on = numbers.words, row.get("now_value"), row.get("said_on")
    if not said_on:
        return ""
    then = " " + words("flag.then", day=words.day(said_on)) if row["kind"] in OF_ITS_DAY else ""
    if now is None or not _is_followed(row):
        return then
    if row["kind"] == "plan_gap":
        newest = numbers.bare("count", now)
        return " " + words("flag.then_week", day=words.day(said_on), now_on=words.day(row["now_on"]), now=newest)
    if then or not _is_told_now(row, numbers):
        return then
    key = "flag.last_known" if row.get("now_is_past") else "flag.today"
    return " " + words(key, day=words.day(said_on), now_on=words.day(row["now_on"]), now=value_text(row, now, numbers))


def _is_followed(row: Mapping[str, Any]) -> bool:
    """Whether something newer than the flag's own day is known of its value, while it is open."""
    said_on, now = row.get("said_on"), row.get("now_value")
    return bool(said_on) and now is not None and row.get("closed_on") is None and row["now_on"] > said_on


def _is_told_now(row: Mapping[str, Any], numbers: Numbers) -> bool:
    """Whether the sentence of an open flag has the value of today beside that of its own day: where the two read differently."""
    if row.get("value") is None or row["kind"] in OF_ITS_DAY or not _is_followed(row):
        return False
    return value_text(row, row["value"], numbers) != value_text(row, row["now_value"], numbers)


def value_text(row: Mapping[str, Any], value: float, numbers: Numbers) -> str:
    """A value of the flag's quantity with its unit, its side or its sign."""
    quantity = _quantity(row)
    if quantity == "strokes":
        text = numbers.words.number(abs(value), 1)
        said = "alike" if text == numbers.words.number(0.0, 1) else "less" if value < 0 else "more"
        return numbers.words(f"flag.now_{said}", n=text)
    show = sided if str(row.get("metric") or "") in SIDED else Numbers.with_unit
    return show(numbers, quantity, value)


def _last_heard(row: Mapping[str, Any], words: Words) -> str:
    """The day before the silence that a flag tells of: it stays true while the silence goes on."""
    if row["kind"] != "quiet" or row.get("value") is None or row.get("raised_on") is None:
        return ""
    return words.day(row["raised_on"] - timedelta(days=int(row["value"])))


def _pattern(row: Mapping[str, Any], words: Words) -> str:
    """The text that fits what the row holds: by metric, with or without a baseline, or bare."""
    kind, metric = str(row["kind"]), str(row.get("metric") or "")
    has_value, has_baseline = row.get("value") is not None, row.get("baseline") is not None
    forms = [f"flag.{kind}.drawn"] if has_value and has_baseline and _reason(row, "likely") is not None else []
    if has_value and row.get("raised_on") is not None:
        forms += [f"flag.{kind}.since"]
    if has_value and has_baseline:
        forms += [f"flag.{kind}.{metric}", f"flag.{kind}.full"]
    if has_value:
        forms += [f"flag.{kind}.value"]
    forms += [f"flag.{kind}.bare"]
    return next((form for form in forms if form in words), "flag.unknown")


def reason_texts(row: Mapping[str, Any], words: Words) -> list[str]:
    """The reasons of a flag in words; a reason ``code:detail`` fills ``{detail}``; an unknown code stands as it is."""
    found = []
    for reason in row.get("reasons") or []:
        code, _, detail = str(reason).partition(":")
        if f"reason.{code}" in words:
            found.append(words(f"reason.{code}", detail=words.either(f"detail.{detail}", detail.replace("_", " "))))
        else:
            found.append(str(reason).replace("_", " "))
    return found


def flag_kind(row: Mapping[str, Any], words: Words) -> str:
    """The kind of flag in two or three words; of scatter with its direction: one may grow while the other tightens."""
    kind = str(row["kind"])
    return words.either(f"flag.{kind}.kind_{row.get('metric')}", words.either(f"flag.{kind}.kind", kind.replace("_", " ")))


def flag_sentence(row: Mapping[str, Any], words: Words, units: Units) -> str:
    """What a flag says, in one sentence of the reader's language and in the academy's units.

    Parameters
    ----------
    row : mapping
        Columns of ``mart_flag``: kind, metric, region, club_group, device_id, value, baseline, n, raised_on, reasons (any may be
        null).
    words : Words
    units : Units

    Returns
    -------
    str
        Plain text; pages escape it.
    """
    numbers = Numbers(words, units)
    values = _values(row, numbers) | {
        "reasons": words.listing(reason_texts(row, words)),
        "kind": flag_kind(row, words),
    }
    said = capital(words(_pattern(row, words), **values)) + _scaled(row, words)
    return said + _likely(row, numbers) + _moved(row, words) + _today(row, numbers)


def flag_evidence(row: Mapping[str, Any], words: Words, units: Units) -> str:
    """The numbers behind a flag: interval, how many values, since when."""
    numbers, parts = Numbers(words, units), []
    if row.get("low") is not None and row.get("high") is not None:
        parts.append(_intervals(row, numbers))
    if row.get("n") is not None and str(row["kind"]) in _BEHIND:
        parts.append(words.count(f"flag.behind_{_BEHIND[str(row['kind'])]}", int(row["n"])))
    parts += _retest(row, words)
    if row.get("raised_on") is not None:
        parts.append(words("flag.since", day=words.day(row["raised_on"])))
        is_told = _today(row, numbers)  # the sentence names the day of its numbers
        if not is_told and row.get("value") is not None and row.get("alerted_on") not in {None, row["raised_on"]}:
            parts.append(words("flag.numbers_of", day=words.day(row["alerted_on"])))
    return capital("; ".join(parts))
