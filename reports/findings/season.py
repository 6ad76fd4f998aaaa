"""The season of one player in one sentence: speed gained, what that costs on the home course, how many flags are open."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

from reports.findings.ball import course_phrase, stroke_text, verdict

if TYPE_CHECKING:
    from collections.abc import Mapping

    from reports.numbers import Numbers
    from reports.story import Story
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


def season_sentence(alias: str, story: Story, numbers: Numbers) -> str:
    """Speed then and now, what the drives cost against then, and what is open; empty when then and now lie too close together.

    Parameters
    ----------
    alias : str
    story : Story
    numbers : Numbers
    """
    now, then = story.speed, story.then
    if now is None or then is None or now["on_date"] - then["then_on"] < LEAST_APART:
        return ""
    words = numbers.words
    way = "same" if not then["lasts"] else "gained" if then["change"] > 0 else "lost"
    parts = [
        words(
            f"season.{way}",
            alias=alias,
            amount=numbers.with_unit("speed", abs(now["level"] - then["then_level"])),
            month=words.month(then["then_on"]),
            level=numbers.with_unit("speed", now["level"]),
        ),
        _cost(story.strokes, numbers),
        flags_phrase(len(story.flags), words),
    ]
    return f"{'; '.join(part for part in parts if part)}."
