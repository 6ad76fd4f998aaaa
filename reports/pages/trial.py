"""One trial: verdict, what stands beside it, shots by arm, and how it was computed; in plain words for the player."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

from reports.findings.trials import (
    SPEED,
    else_sentences,
    next_steps,
    plain_sentence,
    side_effects,
    side_words,
    title_of,
    verdict_sentence,
)
from reports.pages.frame import Page, Part
from reports.pages.parts import bullets, facts, joined, link, section
from reports.pages.trial_evidence import (
    arms_section,
    body_section,
    cost_section,
    dose_section,
    else_section,
    how_section,
    other_section,
    since_section,
)
from reports.pages.trial_shots import lands_section, plans
from reports.pages.trials import PATH as LIST_PATH
from reports.pages.trials import trial_path

if TYPE_CHECKING:
    from collections.abc import Iterator

    from markupsafe import Markup

    from reports.pages.desk import Desk
    from warehouse.marts import PlayerMarts

TABLES = ("arm", "effect", "dose", "strokes", "shot", "since", "alternative")


@dataclass(frozen=True)
class TrialRows:
    """The rows of one trial.

    Attributes
    ----------
    result : dict
        Row of ``mart_trial_result``.
    arm, effect, dose, strokes, shot, since, alternative, body : polars.DataFrame
        Rows of the marts of that name; ``body`` is empty for the coach.
    """

    result: dict[str, Any]
    arm: pl.DataFrame
    effect: pl.DataFrame
    dose: pl.DataFrame
    strokes: pl.DataFrame
    shot: pl.DataFrame
    since: pl.DataFrame
    alternative: pl.DataFrame
    body: pl.DataFrame

    def best(self, frame: pl.DataFrame) -> dict[str, Any] | None:
        """The first row of the arm that the verdict is about."""
        rows = frame.filter(pl.col("arm") == (self.result["best_arm"] or "")).to_dicts()
        return rows[0] if rows else None

    @property
    def verdict_rows(self) -> tuple[dict[str, Any] | None, dict[str, Any] | None, dict[str, Any] | None]:
        """Arm, effect on club speed and strokes at home of the arm that the verdict is about."""
        speed = self.effect.filter(pl.col("metric") == SPEED)
        return self.best(self.arm), self.best(speed), self.best(self.strokes.filter("is_home"))


def _trials(player: PlayerMarts, desk: Desk) -> list[TrialRows]:
    """The player's trials, newest first."""
    results = player.rows("mart_trial_result").sort(pl.coalesce("last_on", "began_on"), "trial_id", descending=[True, False])
    marts = {name: player.rows(f"mart_trial_{name}") for name in TABLES}
    marts["body"] = player.rows("mart_trial_body") if desk.audience != "coach" else pl.DataFrame({"trial_id": []})
    return [
        TrialRows(row, **{name: rows.filter(pl.col("trial_id") == row["trial_id"]) for name, rows in marts.items()})
        for row in results.iter_rows(named=True)
    ]


def _facts(trial: TrialRows, desk: Desk) -> Markup:
    words, row = desk.words, trial.result
    pairs = [
        (words("trial.arms"), ", ".join(row["arms"])),
        (words.count("n.shots", row["n_shots"]), _days(row, desk)),
    ]
    return facts([*side_words(row, words), *pairs])


def _days(row: dict[str, Any], desk: Desk) -> str:
    words = desk.words
    first, last = row["began_on"], row["last_on"] or row["began_on"]
    if first is None:
        return ""
    if first == last:
        return words.short_day(first)
    return words("numbers.interval", low=words.short_day(first), high=words.short_day(last))


def _next(trial: TrialRows, desk: Desk, question: str) -> Markup:
    steps = next_steps(trial.result, desk.words)
    return section(question, steps[0], bullets(steps[1:]))


def _weakness(trial: TrialRows, desk: Desk) -> Markup:
    words, row = desk.words, trial.result
    texts = [words.either(f"trial.note_text.{code}", code) for code in row["notes"]] if row["state"] != "planned" else []
    if row["state"] == "statement":
        more = [words.either(f"trial.statement_text.{code}", code) for code in row["statements"][1:]]
        texts = [text[:1].upper() + text[1:] for text in more] + texts
    if not row["is_declared"]:
        texts.append(words("trial.declared_only"))
    return bullets(texts)


def _coach_body(trial: TrialRows, desk: Desk) -> Markup:
    words, row = desk.words, trial.result
    if row["state"] == "planned":
        return joined([_facts(trial, desk), _next(trial, desk, words("trial.next_section.question"))])
    parts = [
        _facts(trial, desk),
        _weakness(trial, desk),
        _next(trial, desk, words("trial.next_section.question")),
        lands_section(trial, desk),
        arms_section(trial, desk),
        else_section(trial, desk),
        cost_section(trial, desk),
        dose_section(trial, desk),
        body_section(trial, desk),
        since_section(trial, desk),
        other_section(trial, desk),
        how_section(desk),
    ]
    return joined(parts)


def _player_body(trial: TrialRows, desk: Desk) -> Markup:
    words = desk.words
    parts = [_next(trial, desk, words("trial.plain.next"))]
    if trial.result["state"] != "planned":
        moved, _ = side_effects(trial.effect.to_dicts(), desk.numbers)
        told = words("trial.plain.else_moved", what=words.listing(moved)) if moved else words("trial.plain.nothing_else")
        if not any(effect["is_delivery"] for effect in trial.effect.to_dicts()):
            told = else_sentences([], desk.numbers)[0]
        parts += [
            section(words("trial.plain.where"), "", plans(trial, desk)),
            section(words("trial.plain.else"), told),
            since_section(trial, desk),
        ]
    return joined(parts)


def player_pages(player: PlayerMarts, desk: Desk) -> Iterator[Page]:
    """A page for every trial of the player."""
    words, own = desk.words, desk.audience == "player"
    alias = player.rows("mart_player").row(0, named=True)["alias"]
    for trial in _trials(player, desk):
        path, row = trial_path(trial.result["trial_id"]), trial.result
        sentence = plain_sentence if own else verdict_sentence
        home = link(desk.href(path, "index.html"), words("player.own_title"))
        up = [
            link(desk.href(path, LIST_PATH), words("trials.title")),
            link(desk.href(path, desk.player_path(player.player_id)), alias),
        ]
        yield Page(
            path,
            title_of(row, words),
            _player_body(trial, desk) if own else _coach_body(trial, desk),
            lead=sentence(row, *trial.verdict_rows, desk.numbers),
            above=home if own else joined([up[0], " · ", up[1]]),
            body_shown=row["state"] != "planned",
        )


def player_sections(player: PlayerMarts, desk: Desk) -> Iterator[Part]:
    """What was tried, on the player's page."""
    words = desk.words
    path = "index.html" if desk.audience == "player" else desk.player_path(player.player_id)
    sentence = plain_sentence if desk.audience == "player" else verdict_sentence
    items = []
    for trial in _trials(player, desk):
        row = trial.result
        day = row["last_on"] or row["began_on"]
        name = link(desk.href(path, trial_path(row["trial_id"])), title_of(row, words))
        when = f"{words.short_day(day)}: " if day else ""
        items.append(joined([when, name, ". ", sentence(row, *trial.verdict_rows, desk.numbers)]))
    if items:
        yield Part(60, section(words("trial.had.question"), "", bullets(items), anchor="trials"))


__all__ = ["TrialRows", "player_pages", "player_sections"]
