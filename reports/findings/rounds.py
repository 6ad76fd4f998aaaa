"""Score cards as sentences: what they say, whether the tee game's change shows, and whether the fairways agree."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.findings.ball import course_phrase, stroke_text

if TYPE_CHECKING:
    from collections.abc import Mapping

    from reports.numbers import Numbers


MOST_ROUNDS = 60
"""More before and as many after are no plan: two seasons of an eager player."""


def fewer_or_more(value: float, numbers: Numbers) -> str:
    """``0.8 strokes fewer`` or ``more``; of what would be printed as none, that it is less than the smallest that is printed."""
    if round(abs(value), 1) == 0.0:
        return numbers.words("rounds.next_to_none", least=stroke_text(0.1, numbers))
    return numbers.words(f"rounds.{'fewer' if value < 0 else 'more'}", amount=stroke_text(value, numbers))


def score_sentence(row: Mapping[str, Any], numbers: Numbers) -> str:
    """Whether the change of the tee game shows in the score.

    Parameters
    ----------
    row : mapping
        Of ``mart_score_gain``.
    numbers : Numbers
    """
    words = numbers.words
    values = {
        "score": words.number(row["score"], 1),
        "month": words.month(row["month_on"]),
        "rounds": words.count("rounds.n", row["n_rounds"]),
        "course": course_phrase(row["course"], words),
    }
    if row["state"] == "no_reference":
        return _unknown(row, values, numbers)
    values |= {
        "expected": fewer_or_more(row["expected_change"], numbers),
        "change": fewer_or_more(row["score_change"], numbers),
        "interval": words.ends(row["change_low"], row["change_high"], 1),
        "before": words.count("rounds.n", row["n_reference_rounds"]),
        "first": words.month(row["reference_from_on"]),
        "last": words.month(row["reference_to_on"]),
    }
    if row["state"] == "drives_unclear":
        values["expected_interval"] = words.ends(row["expected_low"], row["expected_high"], 1)
    return words(f"rounds.state.{row['state']}", **values)


def _unknown(row: Mapping[str, Any], values: dict[str, str], numbers: Numbers) -> str:
    """What is missing for the comparison: rounds and drives of earlier months, rounds alone, or rounds to tell how they vary."""
    words = numbers.words
    if row["expected_change"] is None or row["reference_from_on"] is None:
        return words("rounds.state.no_reference", **values)
    ends = {"first": words.month(row["reference_from_on"]), "last": words.month(row["reference_to_on"])}
    return words(f"rounds.state.{'no_spread' if row['n_reference_rounds'] else 'no_rounds'}", **values, **ends)


def needed_sentence(row: Mapping[str, Any], numbers: Numbers) -> str:
    """How many rounds it would take to see the expected change; empty where it is seen, or none is looked for."""
    if row["state"] not in {"not_yet", "no_reference"} or row["rounds_to_see"] is None:
        return ""
    words = numbers.words
    return words(
        "rounds.needed" if row["rounds_to_see"] <= MOST_ROUNDS else "rounds.beyond",
        expected=fewer_or_more(row["expected_change"], numbers),
        sd=words.number(row["round_sd"], 1),
        rounds=words.number(row["rounds_to_see"], 0),
    )


def fairway_sentence(row: Mapping[str, Any], numbers: Numbers) -> str:
    """Whether the fairways on the cards are those that the drives' pattern gives; empty where no card tells."""
    if row["fairway_state"] == "unknown":
        return ""
    words = numbers.words
    return words(
        f"rounds.fairways.{row['fairway_state']}",
        card=numbers.estimate(
            "share", row["card_fairway_share"], row["card_fairway_low"], row["card_fairway_high"], row["n_tee_shots"]
        ),
        drive=numbers.with_unit("share", row["drive_fairway_share"]),
        course=course_phrase(row["course"], words),
    )
