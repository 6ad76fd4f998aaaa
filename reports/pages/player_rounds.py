"""The coach's section on score cards: does the tee game's change show in the score."""

from __future__ import annotations

from operator import itemgetter
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from reports.findings.ball import course_name
from reports.findings.rounds import fairway_sentence, needed_sentence, score_sentence
from reports.pages.frame import Part
from reports.pages.parts import bullets, evidence, paragraph, section
from reports.tables import Cell, Head, table

if TYPE_CHECKING:
    from collections.abc import Iterator

    from reports.pages.context import PageContext
    from warehouse.marts import PlayerMarts

_TEE_GAME = ("per_round", "per_round_low", "per_round_high")
MONTHS = 12
"""Months in the table; the last that have a card."""


def player_sections(player: PlayerMarts, context: PageContext) -> Iterator[Part]:
    """Section 44, after what the drives cost; nothing for a player without a card."""
    months = sorted(player.listed("mart_round_month"), key=itemgetter("month_on"))
    if context.audience != "coach" or not months:
        return
    words, gains = context.words, player.listed("mart_score_gain")
    answer = score_sentence(gains[0], context.numbers) if gains else words(f"rounds.{_nothing_beside(player, context)}")
    more = [say(gains[0], context.numbers) for say in (needed_sentence, fairway_sentence)] if gains else []
    body = section(
        words("rounds.question"),
        answer,
        bullets([text for text in more if text]),
        evidence(
            words("rounds.by_month"), _table(player, months[-MONTHS:], context), paragraph(words("rounds.note"), "quiet-note")
        ),
        _events(player, context),
        anchor="rounds",
    )
    yield Part(44, body, label="rounds")


def _nothing_beside(player: PlayerMarts, context: PageContext) -> str:
    """What is missing where cards and drives cannot be set side by side."""
    home = context.home_course(player)
    return "no_cards" if any(row["course"] == home for row in player.listed("mart_stroke_month")) else "no_drives"


def _events(player: PlayerMarts, context: PageContext) -> Markup:
    """The rounds of events, the newest event first; nothing without one."""
    words, numbers = context.words, context.numbers
    rounds = sorted(player.listed("mart_event_round"), key=itemgetter("played_on", "round_no"))
    if not rounds:
        return Markup("")
    last = {row["event"]: row["played_on"] for row in rounds}
    rounds.sort(key=lambda row: last[row["event"]], reverse=True)
    heads = [
        Head(words("rounds.event"), first=True),
        Head(words("rounds.number"), number=True),
        Head(words("rounds.day")),
        Head(words("rounds.played_at")),
        Head(words("rounds.holes"), number=True),
        Head(words("rounds.strokes"), number=True),
    ]
    cells: list[list[str | Cell]] = [
        [
            row["event"],
            numbers.bare("count", row["event_round"]),
            words.short_day(row["played_on"]),
            row["course"] or "",
            numbers.bare("count", row["holes"]),
            numbers.bare("count", row["strokes"]),
        ]
        for row in rounds
    ]
    return evidence(words("rounds.by_event"), table(heads, cells, caption=words("rounds.by_event"), kind="stack"))


def _table(player: PlayerMarts, months: list[dict[str, Any]], context: PageContext) -> Markup:
    words = context.words
    home = context.home_course(player)
    tee_game = {row["month_on"]: row for row in player.listed("mart_stroke_month") if row["course"] == home}
    heads = [
        Head(words("rounds.month"), first=True),
        Head(words("rounds.rounds"), number=True),
        Head(words("rounds.score"), words("rounds.per_18"), number=True),
        Head(words("rounds.fairway_share"), context.numbers.unit("share"), number=True),
        Head(words("rounds.penalties"), words("rounds.per_18"), number=True),
        Head(words("rounds.tee_game"), course_name(home, words), number=True),
    ]
    rows = [_cells(row, tee_game.get(row["month_on"]), context) for row in reversed(months)]
    return table(heads, rows, caption=words("rounds.caption"), kind="stack")


def _cells(row: dict[str, Any], tee_game: dict[str, Any] | None, context: PageContext) -> list[str | Cell]:
    words, numbers = context.words, context.numbers
    drives = tee_game or dict.fromkeys(_TEE_GAME)

    def ranged(value: float | None, low: float | None, high: float | None, digits: int, factor: float = 1.0) -> str | Cell:
        if value is None:
            return numbers.bare("strokes", None)
        text = words.number(value * factor, digits)
        if low is None or high is None:
            return text
        interval = words("numbers.interval", low=words.number(low * factor, digits), high=words.number(high * factor, digits))
        return Cell(text, value, interval)

    return [
        words.month(row["month_on"]),
        words.number(row["n_rounds"], 0),
        ranged(row["score"], row["score_low"], row["score_high"], 1),
        ranged(row["fairway_share"], row["fairway_low"], row["fairway_high"], 0, 100.0),
        ranged(row["penalties"], row["penalties_low"], row["penalties_high"], 1),
        ranged(drives["per_round"], drives["per_round_low"], drives["per_round_high"], 1),
    ]
