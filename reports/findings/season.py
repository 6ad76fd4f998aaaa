"""The season of one player in one sentence: speed gained, what that costs on the home course, how many flags are open."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

from reports.findings.ball import course_phrase, stroke_text, verdict
from reports.findings.side_by_side import known_weeks, mean_swings

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from reports.findings.side_by_side import KnownWeeks, Row
    from reports.numbers import Numbers
    from reports.story import Story
    from reports.words import Words

LEAST_APART = timedelta(days=90)
"""Days between then and now from which a season is spoken of."""


def flags_phrase(n_open: int, reader: str, words: Words) -> str:
    """How many flags are open for this reader, who is named: for another one there may be more. None is said in words."""
    whose = words(f"flag_for.{reader}")
    return words.count("player.open_flags", n_open, whose=whose) if n_open else words("player.open_none", whose=whose)


def _cost(row: Mapping[str, Any] | None, numbers: Numbers) -> str:
    called = verdict(row)
    if row is None or called == "none":
        return ""
    words = numbers.words
    return words(f"season.{called}", amount=stroke_text(row["change"], numbers), course=course_phrase(row["course"], words))


def season_sentence(alias: str, story: Story, reader: str, numbers: Numbers) -> str:
    """Speed then and now, what the drives cost against then, and what is open; empty when then and now lie too close together.

    Parameters
    ----------
    alias : str
    story : Story
    reader : {"coach", "physio"}
        Whose flags the record holds.
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
            amount=numbers.with_unit("speed", numbers.apart("speed", now["level"], then["then_level"])),
            month=words.month(then["then_on"]),
            level=numbers.with_unit("speed", now["level"]),
        ),
        _cost(story.strokes, numbers),
        flags_phrase(len(story.flags), reader, words),
    ]
    return f"{'; '.join(part for part in parts if part)}."


def own_lead(alias: str, story: Story, numbers: Numbers) -> str:
    """How much faster or slower the player has become, in one sentence, from the record; only what lasts is called a change."""
    words, now, then = numbers.words, story.speed, story.then
    if now is None:
        return words("season_sheet.own.lead.none", alias=alias)
    values = {"alias": alias, "now": numbers.with_unit("speed", now["level"])}
    if story.is_past:
        return words("season_sheet.own.lead.past", day=words.day(now["on_date"]), **values)
    if then is None:
        return words("season_sheet.own.lead.level", **values)
    values |= {
        "amount": numbers.with_unit("speed", numbers.apart("speed", now["level"], then["then_level"])),
        "month": words.month(then["then_on"]),
    }
    way = "same" if not then["lasts"] else "faster" if then["change"] > 0 else "slower"
    return words(f"season_sheet.own.lead.{way}", **values)


def work_sentences(weeks: Sequence[Row], numbers: Numbers, *, own: bool) -> list[str]:
    """How many swings a week in the newest twelve months, the biggest week, and the twelve months before.

    Parameters
    ----------
    weeks : sequence of dict
        Rows of ``mart_load_week`` of one player.
    numbers : Numbers
    own : bool
        In second person.
    """
    words, known = numbers.words, known_weeks(weeks)
    now, before = (known.get(back) for back in (0, 1))
    key = "season_sheet.own.swings" if own else "season_sheet.swings"
    if not now:
        return [words(f"{key}.unknown")]
    most = max(now.rows, key=lambda row: row["swings_all"])  # the first of equal ones: weeks stand by day
    told = [
        words(
            f"{key}.now",
            swings=numbers.bare("count", mean_swings(now.rows)),
            weeks=_weeks(now, words),
            most=words.number(most["swings_all"], 0),
            week=words.short_day(most["week_starting"]),
        )
    ]
    if before:
        swings = numbers.bare("count", mean_swings(before.rows))
        told.append(words(f"{key}.before", swings=swings, weeks=_weeks(before, words)))
    return told


def _weeks(known: KnownWeeks, words: Words) -> str:
    """Over how many weeks a mean is taken, and of how many, where some are not known."""
    n = len(known.rows)
    return (
        words.count("side.weeks", n) if n == known.n_all else words.count("side.weeks_of", known.n_all, known=words.number(n, 0))
    )
