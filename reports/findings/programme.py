"""Sentences about season phases: what went up, down, or did not clearly change while they lasted."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from reports.numbers import Numbers
    from reports.words import Words

Called = Literal["up", "down", "open", "unknown"]

_UNIT = {"speed_change": "_mps", "scatter_change": "_m", "stroke_change": ""}
"""Ending of the columns of each change."""


def change(row: Mapping[str, Any], quantity: str) -> tuple[float | None, float | None, float | None]:
    """A change of a phase with the ends of its 90 % interval. ``quantity``: speed_change, scatter_change or stroke_change."""
    unit = _UNIT[quantity]
    return row[f"{quantity}{unit}"], row[f"{quantity}_low{unit}"], row[f"{quantity}_high{unit}"]


def called(row: Mapping[str, Any], quantity: str) -> Called:
    """Whether the 90 % interval of a change lies on one side of zero. ``quantity`` as in :func:`change`."""
    _, low, high = change(row, quantity)
    if low is None or high is None:
        return "unknown"
    return "up" if low > 0 else "down" if high < 0 else "open"


def tally(rows: Iterable[Mapping[str, Any]], quantity: str, words: Words) -> str:
    """``up in 3, down in none, not clear in 2``."""
    found = [called(row, quantity) for row in rows]
    known = [name for name in found if name != "unknown"]
    if not known:
        return words("programme.tally_none")
    if len(found) == 1:
        return words(f"programme.speed_{found[0]}")
    parts = [
        words(f"programme.tally_{name}", n=words.number(known.count(name), 0)) for name in ("up", "down", "open") if name in known
    ]
    return words("programme.tally", parts=words.listing(parts), n=words.number(len(known), 0))


def done_share(row: Mapping[str, Any], words: Words) -> str:
    """Full swings done as a share of those planned; what is known of the days when it cannot be said."""
    if row["done_share"] is not None:
        return f"{words.number(100 * row['done_share'], 0)}\N{NARROW NO-BREAK SPACE}%"
    if row["done_full"] is not None or not row["n_days"]:
        return ""
    return words("programme.days_known", n=row["n_days_known"], all=row["n_days"])


def phase_sentence(phase: str, rows: list[Mapping[str, Any]], numbers: Numbers) -> str:
    """What a kind of phase went along with, over all players who had it."""
    words = numbers.words
    return words.count(
        "programme.said",
        len(rows),
        phase=phase,
        speed=tally(rows, "speed_change", words),
        scatter=tally(rows, "scatter_change", words),
        strokes=tally(rows, "stroke_change", words),
    )
