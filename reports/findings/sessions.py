"""What happens within a session, as sentences: balls until full speed, and whether speed falls when it gets long."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

    from reports.numbers import Numbers

CLEAR_PCT = 0.2
"""Change each ten balls that is told of as tiring [%]."""


def warming_sentence(row: Mapping[str, Any], numbers: Numbers) -> str:
    """Balls until full speed, from a row of ``mart_within_session``."""
    words = numbers.words
    if row["cold_pct"] is None:
        return words("within.no_early", n=words.count("within.balls", row["n_early_balls"]))
    values = {
        "amount": numbers.with_unit("percent", abs(row["cold_pct"])),
        "interval": numbers.interval("percent", row["cold_low_pct"], row["cold_high_pct"], signed=True),
        "n": words.count("within.balls", row["n_balls"]),
        "sessions": words.count("within.sessions", row["n_sessions"]),
    }
    if row["full_from_ball"] is None:
        return words("within.small_cold_start" if row["cold_high_pct"] < 0.0 else "within.no_cold_start", **values)
    return words("within.cold_start", ball=row["full_from_ball"], **values)


def tiring_sentence(row: Mapping[str, Any], numbers: Numbers) -> str:
    """Whether speed falls in long sessions."""
    words = numbers.words
    if row["tired_pct"] is None:
        return words("within.too_short", ball=row["tired_from_ball"], n=words.count("within.balls", row["n_late_balls"]))
    values = {
        "ball": row["tired_from_ball"],
        "amount": numbers.with_unit("percent", abs(row["tired_pct"])),
        "interval": numbers.interval("percent", row["tired_low_pct"], row["tired_high_pct"], signed=True),
    }
    small = "within.tires_little" if row["tired_high_pct"] < 0.0 else "within.holds"
    return words("within.tires" if _tires(row) else small, **values)


def _tires(row: Mapping[str, Any]) -> bool:
    """Whether speed clearly falls in long sessions."""
    return row["tired_pct"] is not None and row["tired_high_pct"] < 0.0 and row["tired_pct"] <= -CLEAR_PCT


def practice_sentence(row: Mapping[str, Any], numbers: Numbers) -> str:
    """Which balls of a session tell of speed; empty where neither cold start nor tiring is clear."""
    first, tires = row["full_from_ball"], _tires(row)
    key = {(True, True): "between", (True, False): "after", (False, True): "before"}.get((first is not None, tires))
    return numbers.words(f"within.practice.{key}", first=first or 1, last=row["tired_from_ball"]) if key else ""


def own_practice_sentence(row: Mapping[str, Any], numbers: Numbers) -> str:
    """The same to the player: how many balls to warm up with, and where to stop; empty where neither is clear."""
    first, tires = row["full_from_ball"], _tires(row)
    warm_up = first is not None and first > 1
    key = {(True, True): "between", (True, False): "after", (False, True): "before"}.get((warm_up, tires))
    balls = numbers.words.count("own.within.balls", (first or 1) - 1)
    return numbers.words(f"own.within.{key}", balls=balls, last=row["tired_from_ball"]) if key else ""
