"""Review sheet: what the physio goes through, one printed side for each player with an open flag on load or body."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

import polars as pl
from markupsafe import Markup

from reports.findings.flags import capital, flag_evidence, flag_kind, flag_sentence, region_name
from reports.findings.load_body import (
    association_sentence,
    assumed_sentence,
    questions,
    rest_sentence,
    standing_word,
    state_word,
    week_sentence,
)
from reports.findings.order import is_waiting, reading_order
from reports.markup import filled, joined
from reports.pages.body_map import body_table, body_weeks, item_name
from reports.pages.frame import Page
from reports.pages.groups import leads_by_group
from reports.pages.lasting import load_lasts, longest_body_lasts
from reports.pages.parts import bullets, facts, link, paragraph
from reports.tables import Cell, Head, Row, day_cell, table

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date

    from reports.pages.context import PageContext
    from warehouse.marts import Marts, PlayerMarts

PATH = "review.html"
Flag = dict[str, Any]
DAYS, WEEKS = 14, 8
KINDS: tuple[str, ...] = (
    "overuse_pattern",
    "body_stiff",
    "problem_report",
    "answers_fewer",
    "body_fatigue",
    "load_jump",
    "load_flat",
)
MOST_FLAGS, MOST_ITEMS, MOST_NOTES, MOST_DECISIONS = 4, 4, 3, 4


def sheet_path(player_id: str) -> str:
    """Path of a player's review sheet below the physio's folder."""
    return f"review/{player_id}.html"


def open_flags(flags: Sequence[Flag]) -> list[Flag]:
    """Open flags on load and body, those that ask most first: several signs together before a single one."""
    wanted = [row for row in flags if row["closed_on"] is None and row["kind"] in KINDS and row["player_id"]]
    return reading_order(wanted, body_first=True)


def pages(marts: Marts, context: PageContext) -> Iterator[Page]:
    """The index: who waits for a decision, who is under one."""
    if marts.audience != "physio":
        return
    words, flags = context.words, open_flags(marts.rows("mart_flag_physio").to_dicts())
    by_player: dict[str, list[Flag]] = {}
    for row in flags:
        by_player.setdefault(row["player_id"], []).append(row)
    states = dict(marts.rows("mart_physio_player").select("player_id", "state").iter_rows())
    waiting = {player: rows for player, rows in by_player.items() if any(is_waiting(row) for row in rows)}
    decided = {player: rows for player, rows in by_player.items() if player not in waiting}
    blocks = [
        _index(f"review.{name}", players, states, context)
        for name, players in (("waiting", waiting), ("decided", decided))
        if players
    ]
    lead = words.count("review.lead", len(waiting)) if by_player else words("review.nobody")
    leads = leads_by_group(marts, lambda ids: words.count("review.lead", len(ids & waiting.keys()))) if by_player else {}
    yield Page(
        PATH,
        words("review.title"),
        joined(blocks),
        lead=lead,
        group_leads=leads,
        nav="review.title",
        order=15,
        body_shown=True,
    )


def _index(key: str, players: dict[str, list[dict[str, Any]]], states: dict[str, str | None], context: PageContext) -> Markup:
    words = context.words
    heads = [Head(words("squad.player"), first=True), Head(words("review.what")), Head(words("review.since"))]
    heads += [Head(words("review.standing")), Head(words("availability.title"))]
    rows = [Row(_index_cells(player, flags, states.get(player), context)) for player, flags in players.items()]
    heading = Markup("<h2>{}</h2>").format(words(key))
    return Markup('<div class="review-list">{}{}</div>').format(
        heading, table(heads, rows, caption=words(key), kind="stack wide")
    )


def _index_cells(player: str, flags: list[dict[str, Any]], state: str | None, context: PageContext) -> list[str | Cell]:
    words, first = context.words, flags[0]
    more = words.count("review.more_also", len(flags) - 1) if len(flags) > 1 else ""
    since = min(row["raised_on"] for row in flags)
    return [
        Cell(link(context.href(PATH, sheet_path(player)), first["alias"]), first["alias"]),
        Cell(flag_sentence(first, words, context.academy.units), note=more),
        day_cell(words.short_day(since), since),
        standing_word(first, words),
        state_word(state, words),
    ]


def player_pages(player: PlayerMarts, context: PageContext) -> Iterator[Page]:
    """One sheet for each player with an open flag on load or body."""
    if context.audience != "physio":
        return
    flags = open_flags(player.listed("mart_flag_physio"))
    if not flags:
        return
    words, path = context.words, sheet_path(player.player_id)
    who = player.listed("mart_physio_player")[0]
    body = joined(_blocks(player, flags, who, context))
    above = link(context.href(path, PATH), words("review.title"))
    yield Page(path, who["alias"], body, above=above, kind="sheet review", body_shown=True)


def _blocks(player: PlayerMarts, flags: Sequence[Flag], who: dict[str, Any], context: PageContext) -> list[Markup]:
    words = context.words
    return [
        _facts(player, who, context),
        _block(words("review.why"), _flags(flags, context)),
        _block(
            words("review.ask"),
            bullets(questions([row["kind"] for row in flags], [row["region"] for row in flags], words), "questions"),
        ),
        _block(words("review.days"), _days(player, flags, context)),
        _block(words("review.weeks"), _weeks(player, flags, context)),
        _block(words("review.written"), _written(player, context)),
        _block(words("review.decided_so_far"), _decisions(player, context)),
        _block(words("review.decide"), _decide(context)),
    ]


def _block(heading: str, matter: Markup) -> Markup:
    if not matter:
        return Markup("")
    return filled('<section><h2>{}</h2><div class="matter">{}</div></section>', heading, matter)


def _facts(player: PlayerMarts, who: dict[str, Any], context: PageContext) -> Markup:
    words = context.words
    days = player.rows("mart_load_day")
    pairs: list[tuple[str, str | Markup]] = [(words("availability.title"), state_word(who["state"], words))]
    if who["lead_side"]:
        pairs.append((words("review.lead_side"), words(f"review.{who['lead_side']}")))
    if not days.is_empty():
        row = days.row(-1, named=True)
        if who["birth_year"]:
            pairs.append((words("review.age"), words.number(row["on_date"].year - who["birth_year"], 0)))
        pairs.append((words("review.as_of"), words.short_day(row["on_date"])))
    return facts(pairs)


def _flags(flags: Sequence[Flag], context: PageContext) -> Markup:
    words, units = context.words, context.academy.units
    items = []
    for row in flags[:MOST_FLAGS]:
        said, evidence = flag_sentence(row, words, units), flag_evidence(row, words, units)
        note = ". ".join((words(f"level.{row['level']}"), evidence, capital(standing_word(row, words))))
        items.append(Markup('<strong>{}</strong> <span class="note">{}.</span>').format(said, note))
    if len(flags) > MOST_FLAGS:
        items.append(filled("{}", words.count("review.more", len(flags) - MOST_FLAGS)))
    return bullets(items)


def _items(player: PlayerMarts, flags: Sequence[Flag]) -> list[str]:
    """The items that the flags are about, then those highest above the own normal lately."""
    days = player.rows("mart_physio_body_day")
    named = [f"stiff_{row['region']}" for row in flags if row["region"]]
    named += [row["metric"] for row in flags if row["kind"] == "body_fatigue" and row["metric"]]
    recent = days.filter(pl.col("on_date") > pl.lit(days["on_date"].max()) - pl.duration(days=DAYS)) if days.height else days
    ranked = recent.group_by("item").agg(pl.col("score").max()).drop_nulls().sort("score", "item", descending=[True, False])
    found = list(dict.fromkeys([*named, *ranked["item"].to_list()]))[:MOST_ITEMS]
    return [item for item in found if item in set(days["item"])]


def _days(player: PlayerMarts, flags: Sequence[Flag], context: PageContext) -> Markup:
    """The last 14 days side by side: what was done, and what was answered."""
    load, answers = player.rows("mart_load_day"), player.rows("mart_physio_body_day")
    if load.is_empty():
        return Markup("")
    words, newest = context.words, load.row(-1, named=True)["on_date"]
    wanted = [newest - timedelta(days=back) for back in range(DAYS - 1, -1, -1)]
    done = {row["on_date"]: row for row in load.tail(DAYS).iter_rows(named=True)}
    heads = [Head(words("review.what"), first=True), *(Head(_day_head(day, wanted[0], context), number=True) for day in wanted)]
    rows: list[list[str | Cell]] = [
        [words(f"load.head_{name}"), *(_done(done.get(day), column, context) for day in wanted)]
        for name, column in (("swings", "swings_all"), ("full_effort", "swings_full_effort"), ("effort_min", "effort_min"))
    ]
    lately = answers.filter(pl.col("on_date") >= wanted[0])
    told = {(row["item"], row["on_date"]): row for row in lately.iter_rows(named=True)}
    items = list(dict.fromkeys([*_items(player, flags), "sleep_h"]))
    rows += [[item_name(item, context), *(_told(told.get((item, day)), context) for day in wanted)] for item in items]
    last = load.row(-1, named=True)
    texts = [week_sentence(last, context.numbers), rest_sentence(last, words), assumed_sentence(last, words)]
    said = paragraph(" ".join(text for text in (*texts, *load_lasts(player, context)) if text))
    grid = table(heads, rows, caption=words("review.days"), kind="days")
    return joined([said, grid, paragraph(words("review.days_legend"), "quiet-note")])


def _day_head(day: date, first: date, context: PageContext) -> str:
    """The day of the month; with the month on the first day and where a month begins."""
    return context.words.short_day(day).rsplit(" ", 1)[0] if day == first or day.day == 1 else str(day.day)


def _done(row: dict[str, Any] | None, column: str, context: PageContext) -> str:
    if row is None or row[column] is None:
        return context.numbers.bare("count", None)
    return context.words("review.rest_mark") if row["is_rest"] else context.numbers.bare("count", row[column])


def _told(row: dict[str, Any] | None, context: PageContext) -> str:
    return (
        context.numbers.bare("count", None) if row is None else f"{row['answer']:g}".replace(".", context.words("locale.decimal"))
    )


def _weeks(player: PlayerMarts, flags: Sequence[Flag], context: PageContext) -> Markup:
    """The body map of the last weeks for the items in question, the weekly form, and what goes with what."""
    words = context.words
    if not body_weeks(player):
        return Markup("")
    items = [item for item in _items(player, flags) if item.startswith("stiff_")]
    blocks = [body_table(player, context, items, WEEKS), paragraph(words("body.legend"), "quiet-note")] if items else []
    blocks.append(bullets(longest_body_lasts(player, context)))
    forms = player.rows("mart_physio_problem_week").filter(pl.col("is_problem")).tail(4)
    told = [
        words(
            "review.form",
            day=words.short_day(row["week_ending"]),
            region=region_name(row["region"], words),
            score=words("review.no_score") if row["score"] is None else words.number(row["score"], 0),
        )
        for row in forms.iter_rows(named=True)
    ]
    if told:
        blocks.append(paragraph(words("review.forms", listed="; ".join(told))))
    wanted = {item.removeprefix("stiff_") for item in items}
    goes_with = player.rows("mart_physio_association").filter(pl.col("region").is_in(list(wanted)))
    blocks += [
        paragraph(association_sentence(row, context.numbers), "quiet-note") for row in goes_with.head(1).iter_rows(named=True)
    ]
    return joined(blocks)


def _written(player: PlayerMarts, context: PageContext) -> Markup:
    notes = player.rows("mart_physio_note").sort("on_date").tail(MOST_NOTES)
    words = context.words
    return bullets(
        [words("review.note", day=words.short_day(row["on_date"]), note=row["note"]) for row in notes.iter_rows(named=True)]
    )


def _decisions(player: PlayerMarts, context: PageContext) -> Markup:
    words = context.words
    made = player.rows("mart_physio_decision").tail(MOST_DECISIONS)
    items = []
    for row in made.iter_rows(named=True):
        what = words.either(f"decision.{row['decision'].replace(' ', '_')}", row["decision"])
        about = flag_kind(row, words) + (f", {region_name(row['region'], words)}" if row["region"] else "")
        until = words("review.until", day=words.short_day(row["until"])) if row["until"] else ""
        line = words(
            "review.decision",
            day=words.short_day(row["decided_on"]),
            role=words(f"role.{row['role']}"),
            what=what,
            until=until,
            about=about,
        )
        line = " ".join(line.split())
        items.append(f"{line} {row['note']}" if row["note"] else line)
    return bullets(items) if items else paragraph(words("review.none_so_far"))


def _decide(context: PageContext) -> Markup:
    """Room to decide and to sign."""
    words = context.words
    boxes = Markup(" ").join(
        Markup('<span class="box">\N{BALLOT BOX} {}</span>').format(words(f"decision.{name}"))
        for name in ("watch", "ease", "rest", "refer", "set_aside")
    )
    lines = Markup("").join(
        Markup('<div><div class="write"></div><p>{}</p></div>').format(words(f"review.write_{name}"))
        for name in ("until", "note", "name", "day")
    )
    return Markup('<p class="boxes">{}</p><div class="write-row">{}</div>').format(boxes, lines)
