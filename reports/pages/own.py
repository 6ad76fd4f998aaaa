"""The player's own page: a short letter first, all charts and numbers in folds below it."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

from markupsafe import Markup

from reports.findings.own import (
    body_sentences,
    good_sentences,
    growth_sentence,
    returning_sentence,
    strokes_good,
    tried_sentence,
    try_sentence,
)
from reports.findings.sessions import own_practice_sentence
from reports.findings.since import own_return_sentence
from reports.markup import filled, joined
from reports.pages.frame import Page, Part
from reports.pages.parts import bullets, evidence, link, paragraph, section
from reports.pages.since import fresh_return
from reports.pages.trend_figure import trend_figure
from reports.story import story_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from reports.pages.context import PageContext
    from reports.story import Story
    from warehouse.marts import PlayerMarts

PATH = "index.html"
OFTEN_DAYS = 8
"""Days with practice in four weeks from which an easy day a week is worth saying: two a week (own choice)."""
LATELY = timedelta(days=28)


def _lead(story: Story, row: dict[str, Any], context: PageContext) -> str:
    if story.speed is None:
        return context.words("player.own_lead", alias=row["alias"])
    level = context.numbers.with_unit("speed", story.speed["level"])
    day = context.words.day(story.speed["on_date"])
    return context.words(f"player.own.{story.called}", alias=row["alias"], level=level, day=day)


def _practice_days(player: PlayerMarts) -> int:
    return sum((swings or 0) > 0 for swings in player.rows("mart_load_day")["swings_all"].tail(28))


def _may_be_minor(row: dict[str, Any], context: PageContext) -> bool:
    last = row["last_session_on"]
    return last is not None and context.academy.access.may_be_minor(row["birth_year"], last.year)


def _for_two(row: dict[str, Any], context: PageContext) -> Markup:
    """A minor's page speaks to the player and to the guardian; the year of the last session tells the age."""
    if not _may_be_minor(row, context):
        return Markup("")
    words = context.words
    return section(words("player.guardian_title"), words("player.guardian"), bullets(words.lines("player.guardian_points")))


def _still_good(story: Story) -> list[dict[str, Any]]:
    """Open flags without those that the last four weeks speak against."""
    return [flag for flag in story.flags if not (flag["kind"] == "speed_rise" and story.called == "down")]


def _back(player: PlayerMarts, story: Story, row: dict[str, Any], context: PageContext) -> str:
    """That the speed is back since a break or change; not where the last four weeks go down."""
    fresh = fresh_return(player, row["last_session_on"])
    return "" if story.called == "down" else own_return_sentence(fresh, context.words)


def _where_nothing_asks(days: int) -> str:
    """Who practises seldom has easy days enough."""
    return "own.try.start" if not days else "own.try.nothing" if days >= OFTEN_DAYS else "own.try.nothing_seldom"


def _instead(player: PlayerMarts, row: dict[str, Any], context: PageContext) -> str:
    """What a trial of the four weeks up to the last session asks for, else a return from a break."""
    last_on = row["last_session_on"]
    if last_on is None:
        return ""
    results = [one for one in player.listed("mart_trial_result") if one["last_on"] and one["last_on"] > last_on - LATELY]
    newest = max(results, key=lambda one: (one["last_on"], one["trial_id"]), default=None)
    asks = dict(player.rows("mart_trial_question").select("trial_id", "body_side").iter_rows()) if newest else {}
    trial = newest | {"body_side": asks.get(newest["trial_id"], "")} if newest else None
    return tried_sentence(trial, context.words) or returning_sentence(fresh_return(player, last_on), context.words)


def _letter(player: PlayerMarts, story: Story, row: dict[str, Any], context: PageContext) -> list[Markup]:
    """What goes well, what the body says, one thing to try, and who to ask."""
    words, numbers = context.words, context.numbers
    flags, told = list(story.flags), [growth_sentence(story, numbers), strokes_good(story, numbers)]
    told.append(_back(player, story, row, context))
    days, nothing = _practice_days(player), "own.good.again" if story.is_past else "own.good.start"
    good = good_sentences(told, _still_good(story), days, numbers, nothing)
    tried = try_sentence(flags, words, _where_nothing_asks(days), _instead(player, row, context) if days else "")
    if any(one["state"] == "not_available" for one in player.listed("mart_coach_availability")):
        tried = words("own.try.body")
    care = [paragraph(words("own.growing"))] if _may_be_minor(row, context) else []
    body = body_sentences(flags, row["handed"], numbers)
    within = [own_practice_sentence(one, numbers) for one in player.listed("mart_within_session")]
    return [
        section(words("own.good.title"), "", bullets(good), *care),
        section(words("own.body.title"), "", *(paragraph(text) for text in body)) if body else Markup(""),
        section(words("own.try.title"), tried, *(paragraph(text) for text in within if text)),
        section(
            words("own.ask.title"),
            "",
            *(paragraph(text) for text in words.lines("own.ask.lines")),
            paragraph(link("season.html", words("season_sheet.own.link")), "way"),
        ),
    ]


def player_sections(player: PlayerMarts, context: PageContext) -> Iterator[Part]:
    """The picture of the driver's speed, which stands below the letter: a section, for the letter changes with every day."""
    if context.audience != "player":
        return
    figure = trend_figure(player, context, "club_speed_mps", "driver", plain=True)
    if figure:
        yield Part(0, section(context.words("player.real_own"), "", figure), label=_PICTURE)


_PICTURE = "picture"


def _folds(parts: Sequence[Part], context: PageContext) -> Markup:
    """Every section in the fold of its label; one without a label stands in the fold before it."""
    groups: list[tuple[str, list[Markup]]] = []
    for part in parts:
        if not part.markup or part.label == _PICTURE:
            continue
        if part.label or not groups:
            groups.append((part.label or "look", []))
        groups[-1][1].append(part.markup)
    folds = [evidence(context.words(f"own.fold.{label}"), *blocks) for label, blocks in groups]
    return joined([filled('<h2 class="folds">{}</h2>', context.words("own.more")), *folds]) if folds else Markup("")


def own_page(player: PlayerMarts, row: dict[str, Any], parts: Sequence[Part], context: PageContext) -> Page:
    """The own page of one player; ``parts`` are the sections that every area adds."""
    story = story_of(player, context)
    pictures = [part.markup for part in parts if part.label == _PICTURE]
    blocks = [*_letter(player, story, row, context), *pictures, _folds(parts, context), _for_two(row, context)]
    return Page(
        PATH,
        context.words("player.own_title"),
        joined(blocks),
        lead=_lead(story, row, context),
        kind="page own",
        body_shown=True,
    )
