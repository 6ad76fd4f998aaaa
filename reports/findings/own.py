"""Sentences of the player's own page: to the player, in plain words, left and right, what goes well first, one thing to try."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.findings.ball import FASTER_MPS, course_phrase, verdict
from reports.findings.flags import club_name
from reports.findings.order import GOOD, is_good, reading_order
from reports.numbers import METRIC_QUANTITY

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from reports.numbers import Numbers
    from reports.story import Story
    from reports.words import Words

Row = dict[str, Any]

BODY = frozenset({"body_stiff", "body_fatigue", "problem_report", "overuse_pattern"})
RESTS = BODY | {"load_jump", "load_flat"}
"""Findings for which the one thing to try is to do less: nobody is told to go on beside it."""
ASKS = frozenset({"ease", "rest", "refer"})
"""Decisions by which the physio asks for a word."""
MOST_GOOD = 3


def own_region(region: str, handed: str | None, words: Words) -> str:
    """A place as the player says it: left and right where the hand is known, else front (near the target) and back."""
    lead, _, place = region.partition("_")
    if lead not in {"lead", "trail"}:
        return words.either(f"own_region.{region}", words.either(f"region.{region}", region.replace("_", " ")))
    if handed not in {"right", "left"}:
        return words.either(f"own_region.{region}", region.replace("_", " "))
    side = "left" if (lead == "lead") == (handed == "right") else "right"
    return words.either(f"own_region.{side}_{place}", place)


def growth_sentence(story: Story, numbers: Numbers) -> str:
    """How much faster the driver has become, with pride; empty where that does not last, or is less than can be felt."""
    now, then = story.speed, story.then
    if now is None or then is None or story.is_past or not then["lasts"] or now["level"] - then["then_level"] < FASTER_MPS:
        return ""
    return numbers.words(
        "own.good.growth",
        month=numbers.words.month(then["then_on"]),
        gained=numbers.with_unit("speed", numbers.apart("speed", now["level"], then["then_level"])),
        before=numbers.with_unit("speed", then["then_level"]),
        now=numbers.with_unit("speed", now["level"]),
    )


def strokes_good(story: Story, numbers: Numbers) -> str:
    """That the drives save shots on the home course; empty where they do not, or where that is not clear or of the past."""
    row = story.strokes
    if row is None or story.is_past or verdict(row) != "saves":
        return ""
    words = numbers.words
    return words(
        "own.good.strokes_better", amount=words.number(abs(row["change"]), 1), course=course_phrase(row["course"], words)
    )


def _flag_good(row: Mapping[str, Any], numbers: Numbers) -> str:
    key = f"own.good.{row['kind']}"
    if row["kind"] == "strokes_better" or key not in numbers.words:
        return ""
    return numbers.words(key, club=club_name(str(row.get("club_group") or ""), numbers.words))


def good_sentences(
    said: Sequence[str], flags: Sequence[Row], days: int, numbers: Numbers, nothing: str = "own.good.start"
) -> list[str]:
    """What goes well, at most three sentences; where nothing else is known, that the player keeps at it.

    Parameters
    ----------
    said : sequence of str
        Sentences on growth and strokes; empty ones are left out.
    flags : sequence of dict
        The player's open flags.
    days : int
        Days with practice in the last four weeks.
    numbers : Numbers
    nothing : str
        Word key of what is said where there is nothing else.
    """
    told = [*said, *(_flag_good(row, numbers) for row in flags if is_good(row))]
    found = list(dict.fromkeys(text for text in told if text))
    if days:
        rests = any(row["kind"] in RESTS for row in flags)
        found.append(numbers.words.count("own.good.days_only" if rests else "own.good.days", days))
    return found[:MOST_GOOD] or [numbers.words(nothing)]


def body_sentences(flags: Sequence[Row], handed: str | None, numbers: Numbers) -> list[str]:
    """What the player's own answers say of the body, each once; the physio's wish to talk comes first, and tells no cause."""
    words = numbers.words
    mine = reading_order([row for row in flags if row["kind"] in BODY], body_first=True)
    wish = any(row["decision"] in ASKS and row["decision_state"] == "under_decision" for row in mine)
    found = [words("own.body.wish")] if wish else []
    found += [_body(row, handed, numbers) for row in mine]
    if mine and not wish:
        found.append(words("own.body.talk"))
    return list(dict.fromkeys(found))


def _body(row: Mapping[str, Any], handed: str | None, numbers: Numbers) -> str:
    words, kind = numbers.words, row["kind"]
    place = own_region(row["region"], handed, words) if row["region"] else ""
    if kind == "body_fatigue":
        return words(f"own.body.fatigue.{row['metric']}" if f"own.body.fatigue.{row['metric']}" in words else "own.body.tired")
    value = row["value"] if row.get("now_value") is None else row["now_value"]
    if kind == "body_stiff" and value is not None:
        return words("own.body.stiff", place=place, value=numbers.bare(METRIC_QUANTITY["stiffness"], value))
    return words(f"own.body.{kind}" if place else f"own.body.{kind}_anywhere", place=place)


def tried_sentence(trial: Mapping[str, Any] | None, words: Words) -> str:
    """To go back, or to keep what was tried, as the page of the trial says; empty where that is not settled, or wants a talk."""
    if trial is None or trial["state"] != "verdict" or trial["body_side"] == "ask":
        return ""
    key = {"go back": "trial_back", "keep": "trial_keep"}.get(trial["verdict"])
    return words(f"own.try.{key}", arm=trial["best_arm"]) if key else ""


def returning_sentence(rows: Sequence[Mapping[str, Any]], words: Words) -> str:
    """To take time after a break, where the speed is shown not to be back; empty else."""
    away = any(
        row["metric"] == "club_speed_mps" and row["state"] == "not_back" and row["cause"] in {"break", "pause"} for row in rows
    )
    return words("own.try.returning") if away else ""


def try_sentence(flags: Sequence[Row], words: Words, nothing: str = "own.try.nothing", instead: str = "") -> str:
    """The one thing to try: easy days while the body or load asks for them, else what fits the finding that asks most.

    Parameters
    ----------
    flags : sequence of dict
        The player's open flags.
    words : Words
    nothing : str
        Word key of what is said where no finding asks for anything.
    instead : str
        What is said in place of findings that do not ask for easy days: what a trial or a return from a break asks for.
    """
    asking = [row for row in flags if row["kind"] not in GOOD]
    if any(row["kind"] in BODY for row in asking):
        return words("own.try.body")
    if instead and not any(row["kind"] in RESTS for row in asking):
        return instead
    for row in reading_order(asking, body_first=False):
        if f"own.try.{row['kind']}" in words:
            return words(f"own.try.{row['kind']}")
    return words(nothing)
