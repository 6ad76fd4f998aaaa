"""Season sheet: twelve months of one player, or as many as there are, on one printed side; nothing of the body is on it."""

from __future__ import annotations

from operator import itemgetter
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from reports.findings.ball import course_phrase, moved_sentence, stroke_text, verdict, worth_told
from reports.findings.rounds import score_sentence
from reports.findings.season import own_lead, work_sentences
from reports.findings.side_by_side import WHOLE, Season, said, seasons
from reports.findings.trials import SPEED, plain_sentence, title_of, verdict_sentence
from reports.markup import filled, joined
from reports.pages.frame import Page
from reports.pages.parts import bullets, link, paragraph, section
from reports.pages.player import season_lead
from reports.pages.player_scatter import no_side
from reports.pages.side_table import side_table
from reports.pages.tradeoff import in_order, newest_strokes
from reports.story import record_of, story_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from reports.pages.context import PageContext
    from warehouse.marts import PlayerMarts, Row

OWN_PATH = "season.html"
DAYS = 365


def sheet_path(player_id: str) -> str:
    """Path of a player's sheet in the coach's folder."""
    return f"season/{player_id}.html"


def _own(context: PageContext) -> bool:
    return context.audience == "player"


def _key(name: str, context: PageContext) -> str:
    return f"season_sheet.own.{name}" if _own(context) else f"season_sheet.{name}"


def _sees_load(context: PageContext) -> bool:
    return _own(context) or context.academy.access.coach_sees_load


def _weeks(player: PlayerMarts, context: PageContext) -> list[Row]:
    rows = player.listed("mart_load_week")
    return rows if _sees_load(context) else []


def _seasons(player: PlayerMarts, context: PageContext) -> list[Season]:
    home = context.home_course(player)
    months = [row for row in player.listed("mart_stroke_month") if row["course"] == home]
    return seasons(player.listed("mart_season_level"), months, _weeks(player, context), context.numbers)


def _months(own: list[Season], context: PageContext) -> str:
    """``nine months``: how many the newest season spans."""
    return context.words(f"season_sheet.months.{own[0].n_months - 1}")


def _span(own: list[Season], row: dict[str, Any], context: PageContext) -> str:
    """The months on the sheet; of who has not hit drives, those of all sessions."""
    if own:
        return _months(own, context)
    first, last = row["first_session_on"], row["last_session_on"]
    n_months = 1 if last is None else 12 * (last.year - first.year) + last.month - first.month + 1
    return context.words(f"season_sheet.months.{min(WHOLE, n_months) - 1}")


def _head(side: str, season: Season, context: PageContext) -> str:
    """What a column is called: twelve months, or how many there are."""
    if season.n_months == WHOLE:
        return context.words(f"season_sheet.{side}")
    return context.words(f"season_sheet.{side}_short", months=_months([season], context))


def _changed(own: list[Season], course: str, context: PageContext) -> Markup:
    words = context.words
    if not own:
        return section(words(_key("changed", context)), words(_key("no_driver", context)))
    titles = (_head("now", own[0], context), _head("before", own[1], context) if len(own) > 1 else "")
    before = own[1] if len(own) > 1 else None
    first = words(_key("first", context), months=_months(own, context))
    answer = said(own[0], before, course, context.numbers) if before else first
    note = paragraph(words("side.how"), "quiet-note") if before else Markup("")
    return section(words(_key("changed", context)), answer, side_table(own[0], before, titles, course, context), note)


def _cost(player: PlayerMarts, context: PageContext) -> Markup:
    words, numbers = context.words, context.numbers
    rows = in_order(newest_strokes(player.listed("mart_stroke_month")), context.home_course(player))
    if not rows:
        return section(words(_key("cost", context)), words("player.no_side" if no_side(player) else _key("worth.none", context)))
    if _own(context):
        values = {"amount": stroke_text(rows[0]["change"], numbers), "course": course_phrase(rows[0]["course"], words)}
        return section(words(_key("cost", context)), words(f"season_sheet.own.worth.{verdict(rows[0])}", **values))
    more = [moved_sentence(rows[0], numbers)] if verdict(rows[0]) != "none" else []
    worth = worth_told(rows, numbers, is_past=record_of(player).is_past)
    return section(words("season_sheet.cost"), worth, *(paragraph(text) for text in more))


def _best(player: PlayerMarts, mart: str, row: dict[str, Any], **only: object) -> dict[str, Any] | None:
    rows = player.part(mart, trial_id=row["trial_id"], arm=row["best_arm"] or "", **only)
    return rows.row(0, named=True) if rows.height else None


def _trials(player: PlayerMarts, newest: date | None, context: PageContext) -> Markup:
    words, numbers = context.words, context.numbers
    rows = [row | {"day": row["last_on"] or row["began_on"]} for row in player.listed("mart_trial_result")]
    if newest is not None:
        rows = [row for row in rows if row["day"] and (newest - row["day"]).days < DAYS]
    say = plain_sentence if _own(context) else verdict_sentence
    items = []
    for row in sorted(rows, key=lambda row: (str(row["day"] or ""), row["trial_id"])):
        speed = _best(player, "mart_trial_effect", row, metric=SPEED)
        of_best = (_best(player, "mart_trial_arm", row), speed, _best(player, "mart_trial_strokes", row, is_home=True))
        day = words.short_day(row["day"]) if row["day"] else ""
        told = say(row | {"body_side": ""}, *of_best, numbers)
        items.append(words("season_sheet.trial", title=title_of(row, words), day=day, said=told))
    return section(words(_key("tried", context)), "" if items else words(_key("nothing_tried", context)), bullets(items))


def _rounds(player: PlayerMarts, context: PageContext) -> Markup:
    words, months = context.words, sorted(player.listed("mart_round_month"), key=itemgetter("month_on"))
    gains = player.listed("mart_score_gain")
    if not months:
        return section(words(_key("rounds", context)), words("season_sheet.no_card"))
    if gains and not _own(context):
        return section(words("season_sheet.rounds"), score_sentence(gains[0], context.numbers))
    last = months[-12:]
    values = {"first": words.month(last[0]["month_on"]), "last": words.month(last[-1]["month_on"])}
    return section(
        words(_key("rounds", context)), words.count("season_sheet.cards", sum(row["n_rounds"] for row in last), **values)
    )


def _work(player: PlayerMarts, context: PageContext) -> Markup:
    words = context.words
    if not _sees_load(context):
        return Markup("")
    told = work_sentences(_weeks(player, context), context.numbers, own=_own(context))
    phases = sorted(player.listed("mart_phase"), key=itemgetter("began_on"))[-5:]
    named = [
        words(
            "season_sheet.phase",
            phase=row["phase"],
            first=words.short_day(row["began_on"]),
            last=words.short_day(row["ended_on"]),
        )
        for row in phases
    ]
    more = [*told[1:], *([words("season_sheet.phases", items="; ".join(named))] if named else [])]
    return section(words(_key("work", context)), told[0], *(paragraph(text) for text in more))


def _agreed(context: PageContext) -> Markup:
    words = context.words
    lines = Markup('<div class="write"></div>') * 2
    signs = joined(filled('<div><div class="write"></div><p>{}</p></div>', text) for text in words.lines("season_sheet.signs"))
    row = filled('<div class="write-row">{}</div>', signs)
    return section(words("season_sheet.agreed"), "", lines, row, paragraph(words("season_sheet.no_body"), "quiet-note"))


def player_pages(player: PlayerMarts, context: PageContext) -> Iterator[Page]:
    """The sheet for the coach and, in second person, for the player."""
    if context.audience not in {"coach", "player"}:
        return
    words, row = context.words, player.listed("mart_player")[0]
    own = _seasons(player, context)
    path = OWN_PATH if _own(context) else sheet_path(player.player_id)
    home, name = (
        ("index.html", words("player.own_title")) if _own(context) else (context.player_path(player.player_id), row["alias"])
    )
    body = [
        _changed(own, context.home_course(player), context),
        _cost(player, context),
        _trials(player, row["last_session_on"], context),
        _rounds(player, context),
        _work(player, context),
        _agreed(context),
    ]
    yield Page(
        path,
        words(_key("title", context), alias=row["alias"], months=_span(own, row, context)),
        joined(body),
        lead=own_lead(row["alias"], story_of(player, context), context.numbers)
        if _own(context)
        else season_lead(player, row, context),
        above=filled('<span class="way">{}</span>', link(context.href(path, home), name)),
        kind="page season one-side",
        body_shown=_sees_load(context),
    )
