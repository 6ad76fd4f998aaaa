"""Player: one story from top to bottom, made of the sections of every area."""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING

from markupsafe import Markup

from reports.findings.season import flags_phrase, season_sentence
from reports.markup import filled, joined
from reports.pages.frame import Page, Part
from reports.pages.own import own_page
from reports.pages.parts import facts, link
from reports.story import story_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from typing import Any

    from reports.pages.context import PageContext
    from warehouse.marts import PlayerMarts


def _parts(player: PlayerMarts, context: PageContext) -> list[Part]:
    modules = importlib.import_module("reports.pages").page_modules()
    return [part for module in modules if hasattr(module, "player_sections") for part in module.player_sections(player, context)]


def _contents(parts: list[Part], context: PageContext) -> Markup:
    """The page's sections in one line, to jump to."""
    words = context.words
    named = [part for part in parts if part.label and part.markup]
    if len(named) < 3:
        return Markup("")
    items = joined(filled('<li><a href="#{}">{}</a></li>', part.label, words(f"player.part.{part.label}")) for part in named)
    return filled('<nav class="contents" aria-label="{}"><ul>{}</ul></nav>', words("player.contents"), items)


def _who(row: dict[str, Any], context: PageContext) -> list[tuple[str, str]]:
    words = context.words
    pairs = [(words(f"player.{what}"), words.number(row[f"n_{what}"], 0)) for what in ("sessions", "shots")]
    if row["last_session_on"]:
        pairs.insert(0, (words("player.last_seen"), words.short_day(row["last_session_on"])))
    if row["handed"]:
        pairs.append((words("player.handed"), words(f"player.{row['handed']}")))
    if row["left_on"]:
        pairs.append((words("player.left_on"), words.short_day(row["left_on"])))
    return pairs


def season_lead(player: PlayerMarts, row: dict[str, Any], context: PageContext) -> str:
    """The season in one sentence: speed, what it costs, and flags; what the page goes on to show."""
    words, story = context.words, story_of(player, context)
    if not row["n_shots"]:
        return words("player.lead_empty", alias=row["alias"])
    flags = flags_phrase(len(story.flags), context.audience, words)
    if story.speed is None:
        return words("player.lead.none", alias=row["alias"], flags=flags)
    if not story.is_past and (said := season_sentence(row["alias"], story, context.audience, context.numbers)):
        return said
    level = context.numbers.with_unit("speed", story.speed["level"])
    return words(
        f"player.lead.{story.called}", alias=row["alias"], level=level, flags=flags, day=words.day(story.speed["on_date"])
    )


def _above(path: str, player: PlayerMarts, context: PageContext) -> Markup:
    """Where the page belongs, and for the coach what else there is about the player."""
    words, player_id = context.words, player.player_id
    places = [("squad.html", words("squad.title"))]
    if context.audience == "coach":
        places.append((f"season/{player_id}.html", words("season_sheet.link")))
        if player.listed("mart_season_level"):
            places.append((f"compare.html#of-{player_id}", words("compare.title")))
    ways = Markup(" · ").join(link(context.href(path, target), name) for target, name in places)
    return filled('<span class="way">{}</span>', ways)


def player_pages(player: PlayerMarts, context: PageContext) -> Iterator[Page]:
    """The page about one player, for coach and physio, and the player's own page."""
    yield player_page(player, context, _parts(player, context))


def player_page(player: PlayerMarts, context: PageContext, sections: Iterable[Part]) -> Page:
    """The same page, of sections that every area has made."""
    row = player.listed("mart_player")[0]
    parts = sorted(sections, key=lambda part: part.order)
    if context.audience == "player":
        return own_page(player, row, parts, context)
    path = context.player_path(player.player_id)
    return Page(
        path,
        row["alias"],
        joined([facts(_who(row, context)), _contents(parts, context), *(part.markup for part in parts)]),
        lead=season_lead(player, row, context),
        above=_above(path, player, context),
        body_shown=any(part.body_shown for part in parts),
    )
