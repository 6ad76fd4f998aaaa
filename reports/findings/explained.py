"""What stands behind a flag, as it is read: reasons, events, sessions, files, in words and the academy's units."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.findings.flags import club_name, metric_name, reason_texts, region_name, value_text
from reports.findings.trend import change_text
from reports.numbers import DASH, METRIC_QUANTITY
from schemas.trend_metrics import TREND_METRICS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from reports.numbers import Numbers

Row = dict[str, Any]
Rows = list[list[str]]

_ELSEWHERE = frozenset({"likely", "retest", "known", "earliest", "latest", "closed"})
"""Reasons that the sentence, its evidence or the list of events tell; so is the metric of a load."""

_CODED = {"session": "session_kind", "shots": "draft.word"}
"""Where the words of a row's detail stand, which is a code of ours."""

_CHANGES = frozenset({"beyond_usual", "worthwhile", "change_28", "move"})
"""Reasons whose number is a change of the flag's metric, in its change unit."""


def reasons_told(flag: Mapping[str, Any], numbers: Numbers) -> list[str]:
    """The reasons of a flag, each with its number in the unit shown, but those that its sentence has."""
    told = []
    for reason in flag.get("reasons") or []:
        code, mark, number = str(reason).partition("=")
        if code.partition(":")[0] in _ELSEWHERE or code in METRIC_QUANTITY or code in {"", "class:none"}:
            continue
        key = f"explain.reason.{code}"
        told += (
            [numbers.words(key, n=_reason_number(flag, code, number, numbers))]
            if mark and key in numbers.words
            else reason_texts({"reasons": [reason]}, numbers.words)
        )
    return told


def _reason_number(flag: Mapping[str, Any], code: str, number: str, numbers: Numbers) -> str:
    value, metric = float(number), str(flag.get("metric") or "")
    if code in _CHANGES:
        metric = metric if metric in TREND_METRICS else "club_speed_mps"
        text = change_text(metric, value, numbers)
        return text.lstrip("+") if code == "worthwhile" else text
    if code == "chance":
        return numbers.p_value(value)
    if code == "done_over_planned":
        return numbers.with_unit("share", value)
    return numbers.words.number(value, 1 if code == "chart" else 0)


def events_told(flag: Mapping[str, Any], events: Sequence[Row], numbers: Numbers) -> tuple[list[str], Rows]:
    """Headers and rows of what happened to a flag, each with the numbers of that night."""
    words = numbers.words
    headers = words.lines("explain.events")
    return headers, [
        [
            words.short_day(event["on_date"]),
            words.either(f"explain.event.{event['event']}", words.either(f"closing.{event['event']}", event["event"])),
            words.either(f"level.{event['level']}", event["level"]),
            *(_value(flag, event[name], numbers) for name in ("value", "baseline")),
            _interval(flag, event, numbers),
            numbers.bare("count", event["n"]),
        ]
        for event in events
    ]


def _value(flag: Mapping[str, Any], value: float | None, numbers: Numbers) -> str:
    if value is None:
        return DASH
    if flag["kind"] == "device_shift":
        return change_text(flag["metric"], value, numbers)
    return value_text(flag, value, numbers)


def _interval(flag: Mapping[str, Any], event: Row, numbers: Numbers) -> str:
    if event["low"] is None or event["high"] is None:
        return DASH
    ends = {name: _value(flag, event[name], numbers) for name in ("low", "high")}
    return numbers.words("numbers.interval", **ends)


def points_told(points: Sequence[Row], numbers: Numbers) -> tuple[list[str], Rows]:
    """Headers and rows of the sessions behind a flag: value, own normal and level of the trend, each with its unit."""
    words = numbers.words
    return words.lines("explain.points"), [
        [
            words.short_day(point["on_date"]),
            str(point["session_id"]),
            numbers.bare("count", point["n"]),
            *(numbers.with_unit(METRIC_QUANTITY[point["metric"]], point[name]) for name in ("value", "usual", "level")),
            numbers.chance(point["odd"]),
        ]
        for point in points
    ]


def norms_told(norms: Row, numbers: Numbers) -> str:
    """What the squad took for usual: how far sessions differ and from where on a change is worth a word, and how many tell it."""
    words, metric = numbers.words, str(norms["metric"])
    told = words(
        "explain.norms",
        metric=metric_name(metric, words),
        club=club_name(str(norms["club_group"]), words),
        **{
            name: change_text(metric, norms[name], numbers).lstrip("+")
            for name in ("session_sd", "typical_error", "worthwhile", "detectable")
        },
    )
    known = (
        words("explain.prior")
        if norms["is_prior"]
        else words.count("explain.norms_of", norms["n_players"], pairs=norms["n_pairs"])
    )
    return f"{told} {known}"


def origins_told(origins: Sequence[Row], numbers: Numbers) -> tuple[list[str], Rows]:
    """Headers and rows of the files and lines from which a flag was read."""
    words = numbers.words
    return words.lines("explain.origins"), [
        [
            words.short_day(origin["on_date"]),
            words.either(f"explain.what.{origin['what']}", origin["what"]),
            str(origin["source"]),
            _detail(origin, numbers),
            numbers.bare("count", origin["n_rows"]),
            str(origin["file_name"] or DASH),
            f"{origin['first_line']}" + (f" - {origin['last_line']}" if origin["last_line"] != origin["first_line"] else ""),
        ]
        for origin in origins
    ]


def _detail(origin: Row, numbers: Numbers) -> str:
    """The kind of session, the club, the phase or the region of a row, in words where it is a code of ours."""
    what, detail = origin["what"], str(origin["detail"] or "")
    if what == "problem":
        return region_name(detail, numbers.words)
    if what in _CODED:
        return numbers.words.either(f"{_CODED[what]}.{detail}", detail)
    return DASH if what == "checkin" else detail or DASH
