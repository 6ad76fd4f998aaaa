"""Today: who needs a look and why, what changed, and what is missing."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any

import polars as pl
from markupsafe import Markup

from reports.findings.flags import club_name, flag_evidence, flag_kind, flag_sentence
from reports.findings.load_body import state_word
from reports.findings.order import mark_of
from reports.findings.since import cause_phrase
from reports.findings.today import Message, closed_since, messages, new_since
from reports.markup import joined
from reports.pages.finding_lines import marked, record_line, state_line, what_to_do
from reports.pages.frame import Page
from reports.pages.groups import leads_by_group
from reports.pages.parts import bullets, folded, link, paragraph, section
from reports.pages.since import FRESH
from schemas.natural_order import natural

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from datetime import date

    from reports.pages.context import PageContext
    from reports.words import Words
    from warehouse.marts import Marts

PATH = "index.html"
DRIVER = "driver"
SHOWN_AT_ONCE = 12
"""Messages shown before the rest is folded away."""

FLAGS = {"coach": "mart_flag_coach", "physio": "mart_flag_physio"}
"""Flags that each reader may see."""


def flag_href(row: dict[str, Any], context: PageContext, page_path: str) -> str:
    """Link to the evidence of a flag: its place on the player's page, or the devices on the data page."""
    if not row["player_id"]:
        return context.href(page_path, "data.html#devices")
    return context.href(page_path, f"{context.player_path(row['player_id'])}#flag-{row['flag_id']}")


def _kind_and_club(row: dict[str, Any], words: Words) -> str:
    """What is found of a player in two or three words, and with which clubs where it is not of the driver."""
    kind, group = flag_kind(row, words), row["club_group"] or DRIVER
    return kind if group == DRIVER else words("today.also_club", kind=kind, club=club_name(group, words))


def _also(message: Message, context: PageContext) -> Markup:
    if not message.others:
        return Markup("")
    words = context.words
    marks: dict[str, set[str]] = {}
    for row in message.others:
        marks.setdefault(_kind_and_club(row, words), set()).add(mark_of(row))
    hidden = {"alert"} - {mark_of(message.lead)}
    kinds = [words("today.also_alert", kind=kind) if hidden & found else kind for kind, found in sorted(marks.items())]
    return paragraph(words("today.also", kinds=words.listing(kinds)), "evidence")


def _returned(marts: Marts, context: PageContext) -> dict[str, str]:
    """Of each player who is back after a break of the last 12 weeks, since when."""
    rows = marts.rows("mart_session_since").filter(
        pl.col("cause").is_in(["break", "pause"]), pl.col("since_on") > context.as_of - FRESH, pl.col("since_on") <= context.as_of
    )
    newest = rows.sort("player_id", "since_on").unique("player_id", keep="last", maintain_order=True)
    words = context.words
    return {
        row["player_id"]: words("today.returned", day=words.day(row["since_on"]), cause=cause_phrase(row, words))
        for row in newest.iter_rows(named=True)
    }


def message_item(message: Message, context: PageContext, page_path: str = PATH, returned: str = "") -> Markup:
    """One message as an item of the bulletin; ``returned``: that the player is back after a break."""
    row, words, units = message.lead, context.words, context.academy.units
    sentence = flag_sentence(row, words, units)
    who = row["alias"] or row["device_id"] or words("flag.unnamed_device")
    said = Markup('<p class="said"><a href="{}"><strong>{}</strong></a> {} {}</p>').format(
        flag_href(row, context, page_path), who, "\N{EN DASH}", sentence
    )
    evidence = paragraph(" ".join(filter(None, (returned, flag_evidence(row, words, units)))), "evidence")
    lines = (said, what_to_do(row, context), evidence, _also(message, context), state_line(row, context))
    return Markup("<li><div>{}</div><div>{}</div></li>").format(
        marked(message.mark, words(f"level.{message.mark}")), joined(lines)
    )


def bulletin(
    found: list[Message], context: PageContext, returned: Mapping[str, str], first_items: Sequence[Markup] = ()
) -> Markup:
    """Messages as a list, what comes before all of them first, the tail folded away; no alert is in the tail."""
    room = max(0, SHOWN_AT_ONCE - len(first_items))
    parts: tuple[list[Markup], list[Markup]] = ([*first_items], [])
    for place, message in enumerate(found):
        item = message_item(message, context, returned=returned.get(message.lead["player_id"] or "", ""))
        parts[place >= room and message.mark != "alert"].append(item)
    head, tail = parts
    first = Markup('<ol class="bulletin">{}</ol>').format(joined(head)) if head else Markup("")
    if not tail:
        return first
    rest = Markup('<ol class="bulletin">{}</ol>').format(joined(tail))
    return first + folded(context.words, context.words.count("today.more", len(tail)), rest)


def _line(row: dict[str, Any], context: PageContext) -> Markup:
    who = row["alias"] or row["device_id"] or context.words("flag.unnamed_device")
    sentence = flag_sentence(row, context.words, context.academy.units)
    return Markup("{} {} {}").format(link(flag_href(row, context, PATH), who), "\N{EN DASH}", sentence)


def _whose(context: PageContext) -> str:
    """For whom the flags are that this page counts: another reader may have more."""
    return context.words(f"flag_for.{context.audience}")


def _changed_said(new: pl.DataFrame, closed: pl.DataFrame, context: PageContext) -> str:
    words = context.words
    if new.is_empty() and closed.is_empty():
        return words("today.nothing_changed", whose=_whose(context))
    return words("today.changed_count", new=words.count("n.flags", new.height), closed=words.number(closed.height, 0))


def _changed(flags: pl.DataFrame, marts: Marts, context: PageContext) -> Markup:
    words, day = context.words, context.as_of
    new, closed = new_since(flags, day), closed_since(flags, day)
    if new.is_empty() and closed.is_empty():
        return section(words("today.changed"), _changed_said(new, closed, context))
    of = pl.col("player_id")
    by_group = leads_by_group(
        marts,
        lambda ids: _changed_said(new.filter(of.is_in(sorted(ids))), closed.filter(of.is_in(sorted(ids))), context),
    )
    blocks = [
        *([Markup("<h3>{}</h3>").format(words("today.new"))] if new.height else []),
        bullets([_line(row, context) for row in new.sort("level", natural("alias"), "flag_id").iter_rows(named=True)]),
        *([Markup("<h3>{}</h3>").format(words("today.closed"))] if closed.height else []),
        bullets([_line(row, context) for row in closed.sort(natural("alias"), "flag_id").iter_rows(named=True)]),
    ]
    return section(words("today.changed"), _changed_said(new, closed, context), *blocks, by_group=by_group)


def _missing(marts: Marts, context: PageContext) -> Markup:
    words = context.words
    squad = marts.rows("mart_squad").filter(~pl.col("has_left"))
    says_nothing = (pl.col("n_days_28") == 0) & (pl.col("n_answers_14").fill_null(0) == 0)
    silent = squad.filter(says_nothing).sort(natural("alias"), "player_id")
    idle = squad.filter(~says_nothing, pl.col("n_shots_28") == 0).sort(natural("alias"), "player_id")
    lines = []
    if silent.height:
        lines.append(Markup("{} {}").format(words("today.nothing_from"), _names(silent, context)))
    if idle.height:
        lines.append(Markup("{} {}").format(words("today.no_shots_from"), _names(idle, context)))
    nobody = squad.is_empty()
    answer = "" if lines else words("today.nobody_there" if nobody else "today.nothing_missing")
    named = {*silent["player_id"], *idle["player_id"]}
    by_group = leads_by_group(marts, lambda ids: "" if ids & named else words("today.nothing_missing_of_group"))
    return section(words("today.missing"), answer, *(paragraph(line) for line in lines), by_group=by_group)


def _who_wants_a_word(marts: Marts, context: PageContext) -> list[Markup]:
    """The physio's wish to talk, for the coach: who, and never why."""
    if context.audience != "coach" or not context.academy.access.coach_sees_availability:
        return []
    asked = marts.rows("mart_coach_availability").filter("asks_for_talk").sort(natural("alias"), "player_id")
    words = context.words
    talk = marked("alert", words("today.talk_mark"))
    return [
        Markup('<li><div>{}</div><div><p class="said"><a href="{}"><strong>{}</strong></a> {} {}</p></div></li>').format(
            talk, context.href(PATH, context.player_path(row["player_id"])), row["alias"], "\N{EN DASH}", words("today.talk")
        )
        for row in asked.iter_rows(named=True)
    ]


def _limited(marts: Marts, context: PageContext) -> Markup:
    """Who cannot train fully now."""
    if context.audience == "coach" and not context.academy.access.coach_sees_availability:
        return Markup("")
    words = context.words
    states = (
        marts.rows("mart_coach_availability").filter(pl.col("state").is_in(["modified", "not_available"])).sort(natural("alias"))
    )
    last = dict(marts.rows("mart_squad").select("player_id", "last_session_on").iter_rows())
    names = [
        Markup("{} ({})").format(
            link(context.href(PATH, context.player_path(row["player_id"])), row["alias"]),
            _limit_said(row["state"], last.get(row["player_id"]), words),
        )
        for row in states.iter_rows(named=True)
    ]
    return paragraph(Markup(words("today.limited", names="{}")).format(Markup(", ").join(names))) if names else Markup("")  # noqa: S704 - own words


def _never_ended(marts: Marts, context: PageContext) -> Markup:
    """For the physio, absences without an end: somebody may have been back for months."""
    if context.audience != "physio":
        return Markup("")
    words, items = context.words, []
    for row in marts.rows("mart_physio_absence").sort("began_on", natural("alias"), "kind").iter_rows(named=True):
        n, last = row["n_days_since"], row["last_session_on"]
        done = words.count("today.absent.done", n, last=words.day(last)) if n else ""
        kind, since = words.either(f"absence_kind.{row['kind']}", row["kind"]), words.day(row["began_on"])
        who = link(context.href(PATH, context.player_path(row["player_id"])), row["alias"])
        items.append(Markup(words("today.absent.item", who="{}", kind=kind, day=since, done=done)).format(who))  # noqa: S704 - own words
    return paragraph(Markup(words("today.absent.said", items="{}")).format(Markup("; ").join(items))) if items else Markup("")  # noqa: S704 - own words


def _limit_said(state: str, last_on: date | None, words: Words) -> str:
    """How somebody is limited; of one who cannot train also the last session, for an absence may have been left open."""
    said = state_word(state, words)
    if state != "not_available" or last_on is None:
        return said
    return words("today.limited_since", state=said, day=words.day(last_on))


def _freshness(marts: Marts, context: PageContext) -> Markup:
    """Until when data reach and when files last came; and a warning that the script shows when the page is read much later."""
    words, came = context.words, context.last_files_on
    if came is None:
        return _waiting(marts, context)
    if marts.rows("mart_coverage").is_empty():
        return paragraph(words("today.no_data", came=words.day(came)), "quiet-note") + _waiting(marts, context)
    line = paragraph(words("today.until_came", until=words.day(context.as_of), came=words.day(came)), "quiet-note")
    warning = Markup('<p class="warning" data-until="{}" data-days="{}" hidden>{}</p>').format(
        context.as_of.isoformat(), context.academy.alerts.quiet_after_days, words("today.stale", until=words.day(context.as_of))
    )
    return warning + line + _waiting(marts, context)


def _waiting(marts: Marts, context: PageContext) -> Markup:
    """Held files and problems that wait, as numbers: whose they are, the page of whoever looks after the data says."""
    words, waits = context.words, dict(marts.rows("mart_waiting").select("what", "n").iter_rows())
    items = [words.count(f"today.waits.{what}", waits[what]) for what in ("held", "problem") if what in waits]
    return paragraph(words("today.waits.said", items=words.listing(items)), "quiet-note") if items else Markup("")


def _names(players: pl.DataFrame, context: PageContext) -> Markup:
    links = [
        link(context.href(PATH, context.player_path(player_id)), alias)
        for player_id, alias in players.select("player_id", "alias").iter_rows()
    ]
    return Markup("{}.").format(Markup(", ").join(links))


def _lead(found: list[Message], context: PageContext) -> str:
    """How many need a look; good news is told apart, and counts as none."""
    words, day = context.words, context.words.day(context.as_of)
    marks = Counter("good" if message.mark == "good" else message.mark * message.is_waiting for message in found)
    n_alerts, n_waiting, n_good, n_decided = (marks[name] for name in ("alert", "notice", "good", ""))
    decided = f" {words.count('today.lead_decided', n_decided)}" if n_decided else ""
    good = f" {words.count('today.lead_good', n_good)}" if n_good else ""
    if n_alerts:
        waiting = words.count("today.lead_waiting", n_waiting) if n_waiting else ""
        return words.count("today.lead_alerts", n_alerts, day=day, waiting=waiting) + decided + good
    if n_waiting:
        return words.count("today.lead_notices", n_waiting, day=day) + decided + good
    nobody = words("today.lead_none", day=day, whose=_whose(context))
    return (words("today.lead_only_good", day=day) if n_good or n_decided else nobody) + decided + good


def pages(marts: Marts, context: PageContext) -> Iterator[Page]:
    """The first page of coach and physio."""
    if marts.audience not in FLAGS:
        return
    words, flags = context.words, marts.rows(FLAGS[marts.audience])
    found, asked = messages(flags, body_first=marts.audience == "physio"), _who_wants_a_word(marts, context)
    nobody = "" if found or asked else words("today.nobody", whose=_whose(context))
    record = record_line(context) if found else Markup("")
    order = paragraph(words("today.order"), "quiet-note") if len({one.mark for one in found} - {"good"}) > 1 else Markup("")
    looks = section(
        words("today.who"),
        nobody,
        order,
        bulletin(found, context, _returned(marts, context), asked),
        record,
        _limited(marts, context),
        _never_ended(marts, context),
    )
    body = joined([_freshness(marts, context), looks, _changed(flags, marts, context), _missing(marts, context)])
    title, lead = words("today.title"), _lead(found, context)
    leads = leads_by_group(marts, lambda ids: _lead([one for one in found if one.lead["player_id"] in ids], context))
    kind = "page today one-side"
    yield Page(PATH, title, body, lead=lead, group_leads=leads, nav="today.title", order=10, kind=kind, body_shown=True)
