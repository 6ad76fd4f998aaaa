"""Compare: two players, or two seasons of one, side by side; chosen by boxes whose choice stands in the address."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl
from markupsafe import Markup

from reports.chart_rows import script_safe
from reports.findings.side_by_side import Row, Season, said, seasons, span
from reports.markup import joined
from reports.pages.frame import Page
from reports.pages.parts import paragraph
from reports.pages.side_table import measure_data, season_data, shown_measures, side_table
from schemas.natural_order import natural

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from reports.pages.context import PageContext
    from warehouse.marts import Marts

PATH = "compare.html"
TEXTS = {
    **{key: f"numbers.{key}" for key in ("interval",)},
    **{
        key: f"side.{key}"
        for key in (
            *("note", "unknown", "missing", "counted", "is_clear", "is_open", "clear", "open", "cannot", "nothing", "item"),
            *("apart", "not_alike"),
        )
    },
    **{key: f"compare.{key}" for key in ("lead", "same", "side")},
    "and": "locale.and",
    "decimal": "locale.decimal",
}
"""Texts that the script fills in as this module does."""

Squad = dict[str, tuple[str, list[Season]]]
"""Player id to alias and seasons, by alias."""


def _by_player(rows: pl.DataFrame, *wanted: str) -> dict[str, list[Row]]:
    """Rows by player, with these columns; all where none is named."""
    found: dict[str, list[Row]] = {}
    for row in (rows.select("player_id", *wanted) if wanted else rows).to_dicts():
        found.setdefault(row["player_id"], []).append(row)
    return found


def _squad(marts: Marts, context: PageContext) -> Squad:
    """Everybody with a driver season."""
    levels = _by_player(marts.rows("mart_season_level"))
    months = context.at_home(marts.rows("mart_stroke_month"), marts)
    weeks = marts.rows("mart_load_week") if context.academy.access.coach_sees_load else marts.rows("mart_load_week").clear()
    by_month = _by_player(months, "month_on", "per_round", "per_round_low", "per_round_high", "n_shots", "course", "standard")
    by_week = _by_player(weeks, "week_starting", "n_days_known", "swings_all")
    players = marts.rows("mart_player").sort(natural("alias"), "player_id").select("player_id", "alias").iter_rows()
    found: Squad = {}
    for player_id, alias in players:
        if player_id in levels:
            own = seasons(levels[player_id], by_month.get(player_id, []), by_week.get(player_id, []), context.numbers)
            found[player_id] = (alias, own)
    return found


def _first_pair(squad: Squad) -> tuple[tuple[str, Season], tuple[str, Season]]:
    """What is shown before anybody chooses: the player whose speed has changed most, beside the season before."""

    def changed(player_id: str) -> float:
        ends = [season.values.get("club_speed_mps") for season in squad[player_id][1][:2]]
        return abs(ends[0].value - ends[1].value) if len(ends) == 2 and ends[0] and ends[1] else -1.0

    most = max(squad, key=changed)
    own = squad[most][1]
    if len(own) > 1:
        return (most, own[0]), (most, own[1])
    other = next((player_id for player_id in squad if player_id != most), most)
    return (most, own[0]), (other, squad[other][1][0])


def _boxes(squad: Squad, pair: Sequence[tuple[str, Season]], context: PageContext) -> Markup:
    """Two boxes a side; the script fills the seasons of the chosen player in."""
    words = context.words
    sides = Markup("")
    for name, (chosen, season) in zip(("a", "b"), pair, strict=True):
        options = Markup("").join(
            Markup('<option{} value="{}"{}>{}</option>').format(
                Markup(' id="of-{}"').format(player_id) if name == "a" else "",
                player_id,
                Markup(" selected") if player_id == chosen else "",
                alias,
            )
            for player_id, (alias, _) in squad.items()
        )
        sides += Markup(
            '<div class="one-of-two" role="group" aria-label="{0}"><p>{0}</p>'
            '<div><label for="{n}">{1}</label><select id="{n}">{2}</select></div>'
            '<div><label for="{n}-season">{3}</label><select id="{n}-season" data-back="{4}"></select></div></div>'
        ).format(words(f"compare.{name}"), words("compare.player"), options, words("compare.season"), season.back, n=name)
    return Markup('<div class="sieve compare" hidden>{}</div>').format(sides)


def _data(squad: Squad, course: str, context: PageContext) -> Markup:
    every = [season for _, own in squad.values() for season in own]
    measures = shown_measures(every)
    content: Mapping[str, Any] = {
        "rows": [measure_data(measure, course, context) for measure in measures],
        "players": {
            player_id: {"alias": alias, "seasons": {season.back: season_data(season, measures, context) for season in own}}
            for player_id, (alias, own) in squad.items()
        },
        "texts": {name: context.words.texts[key] for name, key in TEXTS.items()},
    }
    return Markup('<script type="application/json" id="compare-data">{}</script>').format(Markup(script_safe(content)))  # noqa: S704 - script_safe


def pages(marts: Marts, context: PageContext) -> Iterator[Page]:
    """The page for the coach."""
    if marts.audience != "coach":
        return
    words, squad = context.words, _squad(marts, context)
    title, nav = words("compare.title"), "compare.title"
    if not squad:
        yield Page(PATH, title, joined([]), lead=words("compare.nobody"), nav=nav, order=25)
        return
    if sum(len(own) for _, own in squad.values()) < 2:
        yield Page(PATH, title, joined([]), lead=words("compare.single"), nav=nav, order=25)
        return
    pair = _first_pair(squad)
    (one, first), (other, second) = pair
    names = (squad[one][0], squad[other][0])
    course = context.home_phrase(marts)
    every = [season for _, own in squad.values() for season in own]
    listing = side_table(first, second, names, course, context, every)
    found = words("compare.same") if pair[0] == pair[1] else said(first, second, course, context.numbers)
    sides = [
        words("compare.side", name=name, span=span(season, context.numbers))
        for name, (_, season) in zip(names, pair, strict=True)
    ]
    lead = words("compare.lead", first=sides[0], second=sides[1], said=found)
    body = joined(
        [
            _boxes(squad, pair, context) if context.with_scripts else Markup(""),
            Markup('<div id="compared">{}</div>').format(listing),
            paragraph(words("side.how"), "quiet-note"),
            paragraph(words("compare.without"), "quiet-note"),
            _data(squad, course, context) if context.with_scripts else Markup(""),
        ]
    )
    yield Page(PATH, title, body, lead=lead, nav=nav, order=25)
