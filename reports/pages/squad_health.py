"""The squad: for the physio how many have a problem and what it costs; for the coach load and availability on one line each."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl
from markupsafe import Markup

from reports.findings.flags import region_name
from reports.findings.load_body import (
    association_sentence,
    assumed_note,
    burden_sentence,
    days_of_week,
    prevalence_sentence,
    state_word,
)
from reports.markup import joined
from reports.pages.frame import Page
from reports.pages.groups import blocks_by_group, group_members
from reports.pages.parts import link, paragraph, section
from reports.pages.squad_marks import squad_moments, squad_spans
from reports.pages.trend_marks import marks_table
from reports.tables import Cell, Head, Row, table
from schemas.natural_order import natural

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from reports.pages.context import PageContext
    from warehouse.marts import Marts

LOAD_PATH, HEALTH_PATH = "load.html", "squad-health.html"
WEEKS, WEEKS_OF_GROUP = 52, 26
"""Weeks of the form that are drawn; fewer of each group, so that a page with many groups stays light."""


def pages(marts: Marts, context: PageContext) -> Iterator[Page]:
    """Load for coach and physio; squad health for the physio."""
    if marts.audience not in {"coach", "physio"}:
        return
    if marts.audience == "physio" or context.academy.access.coach_sees_load:
        yield _load_page(marts, context)
    if marts.audience == "physio":
        yield _health_page(marts, context)


def _load_page(marts: Marts, context: PageContext) -> Page:
    words = context.words
    rows = marts.rows("mart_load_now").sort(natural("alias"), "player_id")
    states = {row["player_id"]: row for row in marts.rows("mart_coach_availability").iter_rows(named=True)}
    shows_state = marts.audience == "physio" or context.academy.access.coach_sees_availability
    heads = [Head(words("squad.player"), first=True)]
    heads += [Head(words(f"load.{name}"), number=True) for name in ("head_week", "head_usual", "head_change")]
    heads += [Head(words(f"load.{name}"), number=True) for name in ("head_week_effort", "head_place", "head_easy", "head_known")]
    heads += [Head(words("availability.title"))] if shows_state else []
    listing = [
        Row([*_load_cells(row, context), *([_state_cell(states.get(row["player_id"]), context)] if shows_state else [])])
        for row in rows.iter_rows(named=True)
    ]
    shown = [
        table(heads, listing, caption=words("load.squad_table"), sortable=True, kind="stack"),
        paragraph(f"{words('load.squad_note')} {assumed_note(context.academy, words)}".rstrip(), "quiet-note"),
    ]
    body, lead = (joined(shown), words("load.lead")) if listing else (Markup(""), words("load.nobody"))
    return Page(LOAD_PATH, words("load.title"), body, lead=lead, nav="load.title", order=25, body_shown=True)


def _load_cells(row: dict[str, Any], context: PageContext) -> list[str | Cell]:
    words, bare = context.words, context.numbers.bare
    name = link(context.href(LOAD_PATH, f"{context.player_path(row['player_id'])}#load"), row["alias"])
    week, usual = row["week_swings"], row["usual_week_swings"]
    change = week / usual - 1 if week is not None and usual else None
    place = row["month_percentile"]
    return [
        Cell(name, row["alias"]),
        Cell(bare("count", week), week, days_of_week(row, words)),
        Cell(bare("count", usual), usual),
        Cell(bare("share", change, signed=True), change),
        Cell(bare("count", row["week_effort_min"]), row["week_effort_min"]),
        Cell(bare("count", place), place),
        Cell(bare("count", row["days_since_easy"]), row["days_since_easy"]),
        Cell(words("squad.of", n=row["days_known_28"], all=28), row["days_known_28"], _assumed(row, context)),
    ]


def _assumed(row: dict[str, Any], context: PageContext) -> str:
    assumed = row["days_assumed_28"]
    return context.words("load.assumed_short", n=context.words.number(assumed, 0)) if assumed else ""


def _state_cell(row: dict[str, Any] | None, context: PageContext) -> str | Cell:
    if row is None:
        return ""
    return Cell(
        state_word(row["state"], context.words), note=context.words("availability.talk_short") if row["asks_for_talk"] else ""
    )


def _health_page(marts: Marts, context: PageContext) -> Page:
    words = context.words
    blocks = [
        section(words("squad_health.prevalence_question"), "", _each(marts, context, _prevalence)),
        section(words("squad_health.burden_question"), "", _each(marts, context, _burden)),
        _goes_with(marts, context),
        _answering(marts, context),
    ]
    title = words("squad_health.title")
    lead = words("squad_health.lead")
    return Page(HEALTH_PATH, title, joined(blocks), lead=lead, nav="squad_health.title", order=17, body_shown=True)


def _each(marts: Marts, context: PageContext, told: Callable[[Marts, PageContext, str], Markup]) -> Markup:
    """What is told of everybody (no name), and of each group alone."""
    return blocks_by_group(marts, context, lambda group: told(marts, context, group))


def _prevalence(marts: Marts, context: PageContext, group: str) -> Markup:
    words = context.words
    weeks = marts.rows("mart_physio_prevalence").filter(pl.col("group_name") == group)
    if weeks.is_empty():
        return paragraph(words("squad_health.no_forms_of_group" if group else "squad_health.no_forms"), "answer")
    last = weeks.tail(WEEKS_OF_GROUP if group else WEEKS)
    mean = words(
        "squad_health.mean",
        n=words.number(last.height, 0),
        any=words.number(100 * last["share_any"].mean(), 0),  # type: ignore[arg-type, operator] # a mean of numbers
        substantial=words.number(100 * last["share_substantial"].mean(), 0),  # type: ignore[arg-type, operator] # a mean of numbers
    )
    sets = pl.concat(
        last.select(
            day="week_ending",
            share=(100 * pl.col(f"share_{name}")).round(1),
            low=(100 * pl.col(f"{name}_low")).round(1),
            high=(100 * pl.col(f"{name}_high")).round(1),
            what=pl.lit(words(f"squad_health.{name}")),
            n="n_answered",
        )
        for name in ("any", "substantial")
    )
    players = group_members(marts)[group] if group else None
    lasting, at_once = squad_spans(marts, context, last, players), squad_moments(marts, context, last, players)
    of_group = f" {words('squad_health.alt_of_group', group=group)}" if group else ""
    drawing = context.figure(
        "prevalence",
        {"rows": sets, "spans": lasting, "moments": at_once},
        title=words("squad_health.prevalence_title"),
        caption=f"{mean} {words('squad_health.prevalence_key')} {words('squad_health.above')}",
        alt=words("squad_health.prevalence_alt") + of_group,
        table=_prevalence_table(last, context) + marks_table(lasting, at_once, context),
    )
    note = paragraph(words("squad_health.group_note"), "quiet-note") if group else ""
    return joined([paragraph(prevalence_sentence(weeks.row(-1, named=True), words), "answer"), drawing, note])


def _prevalence_table(weeks: pl.DataFrame, context: PageContext) -> Markup:
    words = context.words
    heads = [Head(words("chart.week"), first=True)]
    heads += [
        Head(words(f"squad_health.head_{name}"), number=True) for name in ("answered", "any", "substantial", "share", "interval")
    ]
    rows = [
        [
            words.short_day(row["week_ending"]),
            *(words.number(row[f"n_{name}"], 0) for name in ("answered", "any", "substantial")),
            words.number(100 * row["share_any"], 0),
            words("numbers.interval", low=words.number(100 * row["any_low"], 0), high=words.number(100 * row["any_high"], 0)),
        ]
        for row in weeks.reverse().iter_rows(named=True)
    ]
    return table(heads, rows, caption=words("squad_health.prevalence_title"), kind="stack")


def _burden(marts: Marts, context: PageContext, group: str) -> Markup:
    words, number = context.words, context.words.number
    rows = marts.rows("mart_physio_burden").filter(pl.col("group_name") == group)
    whole = rows.filter(pl.col("slice_kind") == "all")
    if whole.is_empty():
        return paragraph(words("squad_health.no_hours_of_group" if group else "squad_health.no_hours"), "answer")
    if not whole["is_told"].item():
        return paragraph(words("squad_health.no_absences"), "answer")
    heads = [Head(words("squad_health.slice"), first=True)]
    heads += [Head(words(f"squad_health.head_{name}"), number=True) for name in ("n", "incidence", "mean_days", "burden")]
    lines = [
        [
            _slice(row, context),
            number(row["n"], 0),
            number(row["incidence"], 2),
            context.numbers.bare("rating", row["mean_days"]),
            number(row["burden"], 1),
        ]
        for row in rows.sort(pl.col("slice_kind") != "all", "slice_kind", natural("slice")).iter_rows(named=True)
    ]
    listing = table(heads, lines, caption=words("squad_health.burden_table"), kind="stack")
    note = paragraph(words("squad_health.burden_note"), "quiet-note")
    return joined([paragraph(burden_sentence(whole.row(0, named=True), words), "answer"), listing, note])


def _slice(row: dict[str, Any], context: PageContext) -> str:
    words = context.words
    if row["slice_kind"] == "all":
        return words("squad_health.all")
    name = row["slice"]
    if name == "not said":
        return words(f"squad_health.{row['slice_kind']}_not_said")
    return region_name(name, words) if row["slice_kind"] == "region" else words(f"detail.{name}")


def _goes_with(marts: Marts, context: PageContext) -> Markup:
    rows, words = marts.rows("mart_physio_association").filter(pl.col("player_id") == ""), context.words
    if rows.is_empty():
        return Markup("")

    def said(group: str) -> Markup:
        theirs = rows.filter(pl.col("group_name") == group)
        if theirs.is_empty():
            return paragraph(words("squad_health.goes_with_nothing"))
        return joined(paragraph(association_sentence(row, context.numbers)) for row in theirs.iter_rows(named=True))

    note = paragraph(words("squad_health.goes_with_note"), "quiet-note")
    return section(words("squad_health.goes_with"), "", blocks_by_group(marts, context, said), note)


def _answering(marts: Marts, context: PageContext) -> Markup:
    words = context.words
    players = marts.rows("mart_physio_player")
    rows = players.join(marts.rows("mart_physio_answering"), on="player_id", how="inner").sort(
        "adherence", natural("alias"), nulls_last=True
    )
    heads = [Head(words("squad.player"), first=True), Head(words("squad_health.head_adherence"), "%", number=True)]
    heads += [Head(words("squad_health.head_last")), Head(words("squad_health.head_silent"), number=True)]
    lines: list[list[str | Cell]] = [
        [
            Cell(link(context.href(HEALTH_PATH, context.player_path(row["player_id"])), row["alias"]), row["alias"]),
            Cell(context.numbers.bare("share", row["adherence"]), row["adherence"]),
            words.short_day(row["last_answer_on"]) if row["last_answer_on"] else "",
            Cell(context.numbers.bare("count", row["silent_days"]), row["silent_days"]),
        ]
        for row in rows.iter_rows(named=True)
    ]
    unshared, members = set(players.filter(~pl.col("health_consent"))["player_id"]), group_members(marts)

    def not_shared(group: str) -> Markup:
        n = len(unshared & members[group]) if group else len(unshared)
        return paragraph(words.count("squad_health.unshared", n), "quiet-note") if n else Markup("")

    note = blocks_by_group(marts, context, not_shared)
    if not lines:
        return section(words("squad_health.answering"), words("squad_health.answering_nobody"), note)
    listing = table(heads, lines, caption=words("squad_health.answering"), sortable=True, kind="stack")
    return section(words("squad_health.answering"), words("squad_health.answering_said"), listing, note)
