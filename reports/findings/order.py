"""In which order findings are read: by what they cost or ask for, not by the day on which they were raised.

The weights only order lists. One unit is about one stroke a round. What a finding does not say in strokes is brought to them by
round numbers of the published simulations of driving: 1 % of club speed a tenth of a stroke, one degree of scatter .85, one wild
shot in ten one stroke (golfers who go round in about 80). A region three points
over its own normal stands beside a stroke and a third; what keeps a player from training, and several signs together, above them.

Source: [BroadieKo2009] for the size of the steps, rounded; the rest is our own choice.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

Row = dict[str, Any]

STROKES_PER_SHARE_OF_SPEED = 10.0
STROKES_PER_DEGREE = 0.85
STROKES_PER_WILD_SHARE = 10.0
STROKES_PER_M_OF_CARRY = 0.04
STROKES_PER_POINT = 0.45
DEGREE_M = 3.75
"""One degree to the side at 215 m of carry [m]."""

NOTICE_WEIGHS = 0.6
DECIDED_WEIGHS = 0.3
GOOD_NEWS = 0.02
"""A notice is less sure than an alert; what is in somebody's hands already can wait; good news is read last."""

_CAUSE, _EFFECT = "speed_cost", "strokes_worse"
_ALIKE = 6
"""Decimals of a weight; what differs by less is equal."""

GOOD = frozenset({"speed_rise", "scatter_fall", "strokes_better"})


def is_good(row: Mapping[str, Any]) -> bool:
    """Whether a finding is good news: of a gain that is only a notice it cannot be told yet."""
    return row["kind"] in GOOD and row["level"] == "alert"


def mark_of(row: Mapping[str, Any]) -> str:
    """The mark before a finding: ``good`` where it is good news, else its level, ``alert`` or ``notice``."""
    return "good" if is_good(row) else str(row["level"])


def is_waiting(row: Mapping[str, Any]) -> bool:
    """Whether a flag waits for a decision: none was made, its date has passed, or it has grown."""
    return not row.get("decision") or row.get("decision_state") in {"date_passed", "grown"}


def _change(row: Mapping[str, Any]) -> float:
    value, baseline = row.get("value"), row.get("baseline")
    return abs(value - baseline) if value is not None and baseline is not None else 0.0


def _share(row: Mapping[str, Any]) -> float:
    baseline = row.get("baseline")
    return _change(row) / abs(baseline) if baseline else 0.0


def _of_scatter(row: Mapping[str, Any]) -> float:
    metric = str(row.get("metric") or "")
    degrees = _change(row) if metric.endswith("_deg") else _change(row) / DEGREE_M
    lengthwise = 0.4 if "long" in metric or "depth" in metric else 1.0
    off_the_tee = 1.0 if str(row.get("club_group") or "driver") == "driver" else 0.4  # the steps above are those of drives
    return STROKES_PER_DEGREE * degrees * lengthwise * off_the_tee


def _strokes_said(row: Mapping[str, Any]) -> float:
    return _change(row) if row.get("baseline") is not None else abs(row.get("value") or 0.0)


_COACH: dict[str, Callable[[Mapping[str, Any]], float]] = {
    "strokes_worse": _strokes_said,
    "speed_cost": _strokes_said,
    "speed_fall": lambda row: 0.2 + STROKES_PER_SHARE_OF_SPEED * _share(row),
    "speed_stall": lambda _: 0.2,
    "transfer_loss": lambda row: 0.2 + STROKES_PER_M_OF_CARRY * min(_change(row), 20.0),
    "scatter_rise": _of_scatter,
    "aim_shift": lambda row: 0.2 + 0.5 * _of_scatter(row),
    "wild_rise": lambda row: STROKES_PER_WILD_SHARE * _change(row) / 100.0,  # a share in per cent
    "load_jump": lambda row: 0.3 + 0.5 * min(_share(row), 1.5),
    "load_flat": lambda _: 0.4,
    "quiet": lambda row: 0.3 + min(float(row.get("value") or 0.0), 60.0) / 100.0,
    "plan_gap": lambda _: 0.15,
    "device_shift": lambda _: 0.7,
}

_BODY: dict[str, Callable[[Mapping[str, Any]], float]] = {
    "overuse_pattern": lambda row: 3.0 + 0.3 * len(row.get("reasons") or ()),
    "problem_report": lambda row: 2.0 + float(row.get("value") or 0.0) / 40.0,
    "body_stiff": lambda row: STROKES_PER_POINT * _change(row),
    "body_fatigue": lambda row: 0.1 + 0.2 * _change(row),
    "answers_fewer": lambda _: 1.0,
    "load_jump": lambda row: 0.3 + 0.5 * min(_share(row), 1.5),
    "load_flat": lambda _: 0.7,
}


def weight(row: Mapping[str, Any], *, body_first: bool) -> float:
    """How much a finding asks for attention, in strokes a round or their like; larger first.

    Parameters
    ----------
    row : mapping
        Columns of a mart of flags: kind, metric, level, value, baseline, reasons, decision.
    body_first : bool
        For the physio: signs from the body and load weigh by themselves, the ball hardly.
    """
    kind = str(row["kind"])
    if kind in GOOD:
        return GOOD_NEWS
    table = _COACH | _BODY if body_first else _BODY | _COACH
    asked = table[kind](row) if kind in table else 0.3
    if body_first and kind not in _BODY:
        asked *= 0.2
    asked *= 1.0 if row.get("level") == "alert" else NOTICE_WEIGHS
    return asked * (1.0 if is_waiting(row) else DECIDED_WEIGHS)


def _place(row: Row, body_first: bool) -> tuple[float, str, str, str]:
    """Of equal ones the first kind leads, then the first clubs: ids come last, for they differ between workspaces."""
    asked = weight(row, body_first=body_first)
    return (-round(asked, _ALIKE), str(row["kind"]), str(row.get("club_group") or ""), str(row["flag_id"]))


def reading_order(rows: list[Row], *, body_first: bool) -> list[Row]:
    """Findings, those that ask most first; equal ones by kind: ``speed_cost`` before ``strokes_worse``, whose cause it is."""
    return sorted(rows, key=lambda row: _place(row, body_first))


def told_within(row: Mapping[str, Any], others: Iterable[Mapping[str, Any]]) -> bool:
    """Whether one of the others tells the same and why: drives cost more strokes, as the price of speed gained."""
    return row["kind"] == _EFFECT and any(
        other["kind"] == _CAUSE and other.get("club_group") == row.get("club_group") and other.get("course") == row.get("course")
        for other in others
    )
