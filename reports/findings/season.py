"""The season of one player in one sentence: speed gained, what that costs on the home course, how many flags are open."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

from reports.findings.ball import course_phrase, stroke_text, verdict

if TYPE_CHECKING:
    from collections.abc import Mapping

    from reports.numbers import Numbers
    from reports.words import Words

LEAST_APART = timedelta(days=90)
"""Days between then and now from which a season is spoken of."""


def flags_phrase(n_open: int, words: Words) -> str:
    """How many flags are open; none is said in words."""
    return words.count("player.open_flags", n_open) if n_open else words("player.open_none")


def _cost(row: Mapping[str, Any] | None, numbers: Numbers) -> str:
    called = verdict(row)
    if row is None or called == "none":
        return ""
    words = numbers.words
    return words(f"season.{called}", amount=stroke_text(row["change"], numbers), course=course_phrase(row["course"], words))


def season_sentence(
    alias: str,
    first: Mapping[str, Any] | None,
    last: Mapping[str, Any],
    cost: Mapping[str, Any] | None,
    n_open: int,
    numbers: Numbers,
) -> str:
    """Speed then and now, what the drives cost against then, and what is open; empty when then and now lie too close together.

    Parameters
    ----------
    alias : str
    first, last : mapping
        Rows of ``mart_trend`` of club speed with driver: a year ago (or as long as there is), and newest.
    cost : mapping or None
        Newest row of ``mart_stroke_month`` on the course that counts.
    n_open : int
        Open flags that the reader may see.
    numbers : Numbers
    """
    if first is None or last["on_date"] - first["on_date"] < LEAST_APART:
        return ""
    words = numbers.words
    apart = last["level_low"] > first["level_high"] or last["level_high"] < first["level_low"]
    way = "same" if not apart else "gained" if last["level"] > first["level"] else "lost"
    parts = [
        words(
            f"season.{way}",
            alias=alias,
            amount=numbers.with_unit("speed", abs(last["level"] - first["level"])),
            month=words.month(first["on_date"]),
            level=numbers.with_unit("speed", last["level"]),
        ),
        _cost(cost, numbers),
        flags_phrase(n_open, words),
    ]
    return f"{'; '.join(part for part in parts if part)}."
