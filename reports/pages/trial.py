"""One trial: verdict, what stands beside it, shots by arm, and how it was computed; in plain words for the player."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from reports.findings.trials import (
    else_sentences,
    next_steps,
    plain_sentence,
    side_effects,
    side_words,
    title_of,
    verdict_sentence,
    with_end,
)
from reports.markup import joined
from reports.pages.frame import Page, Part
from reports.pages.parts import bullets, facts, link, section
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
from reports.trial_rows import TrialRows

if TYPE_CHECKING:
    from collections.abc import Iterator

    from markupsafe import Markup

    from reports.pages.context import PageContext
    from warehouse.marts import PlayerMarts

TABLES = ("arm", "effect", "dose", "strokes", "shot", "felt", "since", "alternative")


def _trials(player: PlayerMarts, context: PageContext) -> list[TrialRows]:
    """The player's trials, newest first."""
    if not player.listed("mart_trial_result"):
        return []
    results = player.rows("mart_trial_result").sort(pl.coalesce("last_on", "began_on"), "trial_id", descending=[True, False])
    told = context.audience != "coach"
    asked = dict(player.rows("mart_trial_question").select("trial_id", "body_side").iter_rows()) if told else {}
    return [
        TrialRows(
            row | {"body_side": asked.get(row["trial_id"], "")},
            **{name: player.part(f"mart_trial_{name}", trial_id=row["trial_id"]) for name in TABLES},
            body=player.part("mart_trial_body", trial_id=row["trial_id"]) if told else pl.DataFrame({"trial_id": []}),
        )
        for row in results.iter_rows(named=True)
    ]


def _facts(trial: TrialRows, context: PageContext) -> Markup:
    words, row = context.words, trial.result
    pairs = [
        (words("trial.arms"), ", ".join(row["arms"])),
        (words.count("n.shots", row["n_shots"]), _days(row, context)),
    ]
    _, effect, strokes = trial.verdict_rows
    return facts([*side_words(row, effect, strokes, words), *pairs])


def _days(row: dict[str, Any], context: PageContext) -> str:
    words = context.words
    first, last = row["began_on"], row["last_on"] or row["began_on"]
    if first is None:
        return ""
    if first == last:
        return words.short_day(first)
    return words("numbers.interval", low=words.short_day(first), high=words.short_day(last))


def _next(trial: TrialRows, context: PageContext, question: str) -> Markup:
    steps = next_steps(trial.result, context.words)
    return section(question, steps[0], bullets(steps[1:]))


def _weakness(trial: TrialRows, context: PageContext) -> Markup:
    words, row = context.words, trial.result
    texts = [words.either(f"trial.note_text.{code}", code) for code in row["notes"]] if row["state"] != "planned" else []
    if row["state"] == "statement":
        more = [words.either(f"trial.statement_text.{code}", code) for code in row["statements"][1:]]
        texts = [text[:1].upper() + text[1:] for text in more] + texts
    if not row["is_declared"]:
        texts.append(words("trial.declared_only"))
    return bullets(texts)


def _coach_body(trial: TrialRows, context: PageContext) -> Markup:
    words, row = context.words, trial.result
    if row["state"] == "planned":
        return joined([_facts(trial, context), _next(trial, context, words("trial.next_section.question"))])
    parts = [
        _facts(trial, context),
        _weakness(trial, context),
        _next(trial, context, words("trial.next_section.question")),
        lands_section(trial, context),
        arms_section(trial, context),
        else_section(trial, context),
        cost_section(trial, context),
        dose_section(trial, context),
        body_section(trial, context),
        since_section(trial, context),
        other_section(trial, context),
        how_section(context),
    ]
    return joined(parts)


def _player_body(trial: TrialRows, context: PageContext) -> Markup:
    words = context.words
    parts = [_next(trial, context, words("trial.plain.next"))]
    if trial.result["state"] != "planned":
        moved, _ = side_effects(trial.effect.to_dicts(), context.numbers)
        told = words("trial.plain.else_moved", what=words.listing(moved)) if moved else words("trial.plain.nothing_else")
        if not any(effect["is_delivery"] for effect in trial.effect.to_dicts()):
            told = else_sentences([], context.numbers)[0]
        parts += [
            section(words("trial.plain.where"), "", plans(trial, context)),
            section(words("trial.plain.else"), told),
            since_section(trial, context),
        ]
    return joined(parts)


def player_pages(player: PlayerMarts, context: PageContext) -> Iterator[Page]:
    """A page for every trial of the player."""
    words, own = context.words, context.audience == "player"
    alias = player.listed("mart_player")[0]["alias"]
    for trial in _trials(player, context):
        path, row = trial_path(trial.result["trial_id"]), trial.result
        sentence = plain_sentence if own else verdict_sentence
        home = link(context.href(path, "index.html"), words("player.own_title"))
        up = [
            link(context.href(path, LIST_PATH), words("trials.title")),
            link(context.href(path, context.player_path(player.player_id)), alias),
        ]
        yield Page(
            path,
            title_of(row, words),
            _player_body(trial, context) if own else _coach_body(trial, context),
            lead=with_end(sentence(row, *trial.verdict_rows, context.numbers), row, words),
            above=home if own else joined([up[0], " · ", up[1]]),
            body_shown=row["state"] != "planned",
        )


def player_sections(player: PlayerMarts, context: PageContext) -> Iterator[Part]:
    """What was tried, on the player's page."""
    words = context.words
    path = "index.html" if context.audience == "player" else context.player_path(player.player_id)
    sentence = plain_sentence if context.audience == "player" else verdict_sentence
    items = []
    for trial in _trials(player, context):
        row = trial.result
        day = row["last_on"] or row["began_on"]
        name = link(context.href(path, trial_path(row["trial_id"])), title_of(row, words))
        when = f"{words.short_day(day)}: " if day else ""
        items.append(joined([when, name, ". ", with_end(sentence(row, *trial.verdict_rows, context.numbers), row, words)]))
    if items:
        yield Part(60, section(words("trial.had.question"), "", bullets(items), anchor="trials"), label="trials")


__all__ = ["TrialRows", "player_pages", "player_sections"]
