"""Trials: every trial of the squad, planned or struck, and what came of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl
from markupsafe import Markup

from reports.findings.trials import SPEED, statement, title_of, word_key
from reports.markup import joined
from reports.pages.frame import Page
from reports.pages.groups import leads_by_group
from reports.pages.parts import link, paragraph
from reports.tables import Cell, Head, Row, table

if TYPE_CHECKING:
    from collections.abc import Iterator

    from reports.pages.context import PageContext
    from warehouse.marts import Marts

PATH = "trials.html"
ORDER = ("keep", "go_back", "keep_testing", "ended_open", "ended_same", "statement", "planned")


def trial_path(trial_id: str) -> str:
    """Path of a trial's page below the audience's folder (players: below their own)."""
    return f"trials/{trial_id}.html"


def _joined_rows(marts: Marts) -> pl.DataFrame:
    """One row per trial with the alias, and speed and strokes of the arm that the verdict is about."""
    speed = (
        marts.rows("mart_trial_effect")
        .filter(pl.col("metric") == SPEED)
        .select("trial_id", "arm", (pl.col("mean", "low", "high") / pl.col("level")).name.prefix("speed_"))
    )
    strokes = (
        marts.rows("mart_trial_strokes")
        .filter("is_home")
        .select("trial_id", "arm", pl.col("mean", "low", "high").name.prefix("strokes_"))
    )
    alias = marts.rows("mart_player").select("player_id", "alias")
    return (
        marts.rows("mart_trial_result")
        .join(alias, on="player_id", how="inner")
        .join(speed, left_on=["trial_id", "best_arm"], right_on=["trial_id", "arm"], how="left")
        .join(strokes, left_on=["trial_id", "best_arm"], right_on=["trial_id", "arm"], how="left")
        .sort(pl.coalesce("last_on", "began_on"), "trial_id", descending=[True, False], nulls_last=True)
    )


def _lead(rows: pl.DataFrame, context: PageContext) -> str:
    words = context.words
    if rows.is_empty():
        return words("trials.none_of_group")
    keys = [word_key(row) for row in rows.iter_rows(named=True)]
    if len(keys) == 1:
        verdict = words(f"trial.{keys[0]}")
        return words.count("trials.lead", 1, states=verdict[:1].lower() + verdict[1:])
    states = [words.count(f"trials.state.{key}", keys.count(key)) for key in ORDER if key in keys]
    return words.count("trials.lead", len(keys), states=words.listing(states))


def _cells(row: dict[str, Any], context: PageContext) -> list[str | Cell]:
    words, numbers = context.words, context.numbers
    key, day = word_key(row), row["last_on"] or row["began_on"]
    why = statement(row, words) if key == "statement" else ""
    speed, strokes = row["speed_mean"], row["strokes_mean"]
    return [
        Cell(
            link(context.href(PATH, trial_path(row["trial_id"])), title_of(row, words)),
            title_of(row, words),
            row["best_arm"] or "",
        ),
        Cell(link(context.href(PATH, context.player_path(row["player_id"])), row["alias"]), row["alias"]),
        Cell(
            words.short_day(day) if day else "",
            day.isoformat() if day else None,
            words("trials.ended", day=words.short_day(row["ended_on"])) if row["ended_on"] else "",
        ),
        Cell(words.number(row["n_shots"], 0), row["n_shots"]),
        Cell(Markup("<strong>{}</strong>").format(words(f"trial.{key}")), ORDER.index(key), why[:1].upper() + why[1:]),
        Cell(
            numbers.bare("percent", None if speed is None else 100 * speed, signed=True),
            speed,
            "" if speed is None else numbers.interval("percent", 100 * row["speed_low"], 100 * row["speed_high"], signed=True),
        ),
        Cell(
            numbers.bare("strokes", strokes, signed=True),
            strokes,
            numbers.interval("strokes", row["strokes_low"], row["strokes_high"], signed=True) if strokes is not None else "",
        ),
    ]


def _heads(context: PageContext) -> list[Head]:
    words = context.words
    return [
        Head(words("trials.question"), first=True),
        Head(words("trials.player")),
        Head(words("trials.when")),
        Head(words("trials.shots"), number=True),
        Head(words("trials.verdict")),
        Head(words("trials.speed"), words("trials.against"), number=True),
        Head(words("trials.strokes"), words("trials.per_round"), number=True),
    ]


def pages(marts: Marts, context: PageContext) -> Iterator[Page]:
    """The list of trials for coach and physio."""
    if marts.audience not in {"coach", "physio"}:
        return
    words, rows = context.words, _joined_rows(marts)
    if rows.is_empty():
        yield Page(PATH, words("trials.title"), joined([]), lead=words("trials.none"), nav="trials.title", order=40)
        return
    listing = table(
        _heads(context),
        [Row(_cells(row, context)) for row in rows.iter_rows(named=True)],
        caption=words("trials.caption"),
        sortable=True,
        kind="stack",
    )
    body = joined([listing, paragraph(words("trials.note"), "quiet-note")])
    leads = leads_by_group(marts, lambda ids: _lead(rows.filter(pl.col("player_id").is_in(sorted(ids))), context))
    yield Page(PATH, words("trials.title"), body, lead=_lead(rows, context), group_leads=leads, nav="trials.title", order=40)
