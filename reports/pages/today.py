"""Today: who needs a look and why, what changed, and what is missing."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

import polars as pl
from markupsafe import Markup

from reports.findings.flags import flag_evidence, flag_kind, flag_sentence
from reports.findings.today import Message, closed_since, messages, new_since
from reports.pages.frame import Page
from reports.pages.parts import bullets, folded, joined, link, paragraph, section

if TYPE_CHECKING:
    from collections.abc import Iterator

    from reports.pages.context import PageContext
    from warehouse.marts import Marts

PATH = "index.html"
SHOWN_AT_ONCE = 12
"""Messages shown before the rest is folded away."""

FLAGS = {"coach": "mart_flag_coach", "physio": "mart_flag_physio"}
"""Flags that each reader may see."""


def flag_href(row: dict[str, Any], context: PageContext, page_path: str) -> str:
    """Link to the evidence of a flag: its place on the player's page, or the devices on the data page."""
    if not row["player_id"]:
        return context.href(page_path, "data.html#devices")
    return context.href(page_path, f"{context.player_path(row['player_id'])}#flag-{row['flag_id']}")


def _mark(level: str, context: PageContext) -> Markup:
    return Markup('<span class="mark {}">{}</span>').format(level, context.words(f"level.{level}"))


def _also(message: Message, context: PageContext) -> Markup:
    if not message.others:
        return Markup("")
    kinds = [flag_kind(row["kind"], context.words) for row in message.others]
    return paragraph(context.words("today.also", kinds=context.words.listing(sorted(set(kinds)))), "evidence")


def _decision(row: dict[str, Any], context: PageContext) -> Markup:
    if not row["decision"]:
        return Markup("")
    words = context.words
    what = words.either(f"decision.{row['decision'].replace(' ', '_')}", row["decision"])
    until = words("today.until", day=words.short_day(row["decided_until"])) if row["decided_until"] else ""
    return paragraph(words("today.decided", what=what, until=until).strip(), "evidence")


def message_item(message: Message, context: PageContext, page_path: str = PATH) -> Markup:
    """One message as an item of the bulletin."""
    row, words, units = message.lead, context.words, context.academy.units
    sentence = flag_sentence(row, words, units)
    who = row["alias"] or row["device_id"] or words("flag.unnamed_device")
    said = Markup('<p class="said"><a href="{}"><strong>{}</strong></a> {} {}</p>').format(
        flag_href(row, context, page_path), who, "\N{EN DASH}", sentence
    )
    evidence = paragraph(flag_evidence(row, words, units), "evidence")
    return Markup("<li><div>{}</div><div>{}{}{}{}</div></li>").format(
        _mark(row["level"], context), said, evidence, _also(message, context), _decision(row, context)
    )


def bulletin(found: list[Message], context: PageContext, page_path: str = PATH) -> Markup:
    """Messages as a list, the tail folded away."""
    items = [message_item(message, context, page_path) for message in found]
    head, tail = items[:SHOWN_AT_ONCE], items[SHOWN_AT_ONCE:]
    first = Markup('<ol class="bulletin">{}</ol>').format(joined(head)) if head else Markup("")
    if not tail:
        return first
    rest = Markup('<ol class="bulletin">{}</ol>').format(joined(tail))
    return first + folded(context.words.count("today.more", len(tail)), rest)


def _line(row: dict[str, Any], context: PageContext) -> Markup:
    who = row["alias"] or row["device_id"] or context.words("flag.unnamed_device")
    sentence = flag_sentence(row, context.words, context.academy.units)
    return Markup("{} {} {}").format(link(flag_href(row, context, PATH), who), "\N{EN DASH}", sentence)


def _changed(flags: pl.DataFrame, context: PageContext) -> Markup:
    words, day = context.words, context.as_of - timedelta(days=1)
    new, closed = new_since(flags, day), closed_since(flags, day)
    if new.is_empty() and closed.is_empty():
        return section(words("today.changed"), words("today.nothing_changed"))
    answer = words("today.changed_count", new=words.count("n.flags", new.height), closed=words.number(closed.height, 0))
    blocks = [
        *([Markup("<h3>{}</h3>").format(words("today.new"))] if new.height else []),
        bullets([_line(row, context) for row in new.sort("level", "flag_id").iter_rows(named=True)]),
        *([Markup("<h3>{}</h3>").format(words("today.closed"))] if closed.height else []),
        bullets([_line(row, context) for row in closed.sort("flag_id").iter_rows(named=True)]),
    ]
    return section(words("today.changed"), answer, *blocks)


def _missing(marts: Marts, context: PageContext) -> Markup:
    words = context.words
    squad = marts.rows("mart_squad").filter(~pl.col("has_left"))
    silent = squad.filter(pl.col("n_days_28") == 0, pl.col("n_answers_14").fill_null(0) == 0).sort("alias", "player_id")
    idle = squad.filter(pl.col("n_days_28") > 0, pl.col("n_shots_28") == 0).sort("alias", "player_id")
    lines = []
    if silent.height:
        lines.append(Markup("{} {}").format(words("today.nothing_from"), _names(silent, context)))
    if idle.height:
        lines.append(Markup("{} {}").format(words("today.no_shots_from"), _names(idle, context)))
    answer = "" if lines else words("today.nothing_missing")
    return section(words("today.missing"), answer, *(paragraph(line) for line in lines))


def _names(players: pl.DataFrame, context: PageContext) -> Markup:
    links = [
        link(context.href(PATH, context.player_path(player_id)), alias)
        for player_id, alias in players.select("player_id", "alias").iter_rows()
    ]
    return Markup("{}.").format(Markup(", ").join(links))


def _lead(found: list[Message], context: PageContext) -> str:
    words = context.words
    n_alerts = sum(message.lead["level"] == "alert" for message in found)
    if not found:
        return words("today.lead_none", day=words.day(context.as_of))
    if not n_alerts:
        return words.count("today.lead_notices", len(found), day=words.day(context.as_of))
    return words.count(
        "today.lead_alerts", n_alerts, day=words.day(context.as_of), notices=words.number(len(found) - n_alerts, 0)
    )


def pages(marts: Marts, context: PageContext) -> Iterator[Page]:
    """The first page of coach and physio."""
    if marts.audience not in FLAGS:
        return
    words, flags = context.words, marts.rows(FLAGS[marts.audience])
    found = messages(flags)
    looks = section(words("today.who"), "" if found else words("today.nobody"), bulletin(found, context))
    body = joined([looks, _changed(flags, context), _missing(marts, context)])
    yield Page(PATH, words("today.title"), body, lead=_lead(found, context), nav="today.title", order=10, body_shown=True)
