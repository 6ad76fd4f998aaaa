"""Is the body coping: answers and the body map over weeks for the physio and the player alone; to the coach, who can train."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

import polars as pl
from markupsafe import Markup

from reports.findings.flags import region_name
from reports.findings.load_body import (
    association_sentence,
    state_word,
)
from reports.findings.own import own_region
from reports.markup import joined
from reports.pages.frame import Page, Part
from reports.pages.groups import leads_by_group
from reports.pages.lasting import body_lasts
from reports.pages.parts import bullets, link, paragraph, section
from reports.tables import Cell, Head, Row, table
from schemas.natural_order import natural
from schemas.regions import REGIONS

if TYPE_CHECKING:
    from collections.abc import Callable, Container, Iterator, Sequence
    from datetime import date

    from reports.pages.context import PageContext
    from warehouse.marts import Marts, PlayerMarts

PATH = "body-map.html"
WEEKS = 12
MARKED_DAYS = 2
STEPS = (1.0, 2.0, 3.0)
"""Points above the own normal from which a cell is darker; while that is being learned, points less two."""


def week_heads(newest: date, n_weeks: int) -> list[date]:
    """The last weeks (Mondays), newest first: on a phone the newest stands beside the name."""
    monday = newest - timedelta(days=newest.weekday())
    return [monday - timedelta(weeks=back) for back in range(n_weeks)]


def heat_cell(row: dict[str, Any] | None, context: PageContext) -> Cell:
    """A week of one item: its mean answer; a triangle where days lay above the own normal; a dot while that is being learned.

    Of hours slept the triangle points down: days lay below it. The grey behind it grows with the distance above the own normal;
    what counts is said by the mark too.
    """
    if row is None:
        return Cell(Markup('<span class="heat none">\N{EN DASH}</span>'))
    worse = "\N{BLACK DOWN-POINTING TRIANGLE}" if row["item"] == HOURS else "\N{BLACK UP-POINTING TRIANGLE}"
    mark = worse if row["n_days_above"] >= MARKED_DAYS else ("\N{MIDDLE DOT}" if row["normal"] is None else "")
    step = 0 if row["item"] == HOURS else sum(_above(row) >= border for border in STEPS)
    shown = context.words.number(row["mean_answer"], 1)
    inside = f'<span class="heat heat-{step}">{shown}{f"<b>{mark}</b>" if mark else ""}</span>'
    return Cell(Markup(inside))  # noqa: S704 - two numbers and our own mark


def _above(row: dict[str, Any]) -> float:
    """Points by which the week's mean answer lies above the own normal; while that is being learned, above two."""
    return float(row["mean_answer"] - (2.0 if row["normal"] is None else row["normal"]))


_WEEK = ("item", "week_starting", "n_answers", "mean_answer", "n_days_above", "normal")


def body_weeks(player: PlayerMarts) -> list[dict[str, Any]]:
    """What was answered week by week, as far as the map shows it."""
    return player.once(("body weeks",), lambda: player.rows("mart_physio_body_week").select(_WEEK).to_dicts())


def _cells(player: PlayerMarts, context: PageContext) -> dict[tuple[str, date], Cell]:
    """Cells of the last weeks by item and Monday: the same for every reader."""
    weeks = body_weeks(player)
    oldest = week_heads(_newest(weeks), WEEKS)[-1]
    return {(row["item"], row["week_starting"]): heat_cell(row, context) for row in weeks if row["week_starting"] >= oldest}


def _newest(weeks: Sequence[dict[str, Any]]) -> date:
    newest: date = max(row["week_starting"] for row in weeks)
    return newest


def body_table(
    player: PlayerMarts, context: PageContext, names: Sequence[str], n_weeks: int = WEEKS, handed: str | None = None
) -> Markup:
    """Items (rows) by weeks (columns) of a player who answered: numbers and marks, readable without colour."""
    words, nothing = context.words, heat_cell(None, context)
    cells = player.once(("body cells",), lambda: _cells(player, context))
    mondays = week_heads(_newest(body_weeks(player)), n_weeks)
    heads = [Head(words("body.region"), first=True)]
    heads += [Head(words.short_day(monday).rsplit(" ", 1)[0], number=True) for monday in mondays]
    rows: list[list[str | Cell]] = [
        [item_name(name, context, handed), *(cells.get((name, monday), nothing) for monday in mondays)] for name in names
    ]
    return table(heads, rows, caption=words("body.table", n=n_weeks), kind="heat-map")


def item_name(item: str, context: PageContext, handed: str | None = None) -> str:
    """An item in words: a region (to the player: left and right), or what was asked."""
    if item.startswith("stiff_"):
        if context.audience == "player":
            return own_region(item.removeprefix("stiff_"), handed, context.words)
        return region_name(item.removeprefix("stiff_"), context.words)
    return context.words(f"metric.{item}")


def regions_of(present: Container[str]) -> list[str]:
    """Stiffness items that were answered, from head to knee."""
    return [f"stiff_{region}" for region in REGIONS if f"stiff_{region}" in present]


def _availability_section(player: PlayerMarts, context: PageContext) -> Part | None:
    rows = player.listed("mart_coach_availability")
    if not rows or not context.academy.access.coach_sees_availability:
        return None
    words, row = context.words, rows[0]
    note = paragraph(words("availability.talk")) if row["asks_for_talk"] else Markup("")
    return Part(5, section(words("availability.title"), state_word(row["state"], words), note), body_shown=True)


def _body_section(player: PlayerMarts, context: PageContext) -> Part | None:
    weeks = body_weeks(player)
    if not weeks:
        return None
    words = context.words
    own = context.audience == "player"
    present = {row["item"] for row in weeks}
    names = [*regions_of(present), *(name for name in _STATES if name in present)]
    handed = player.listed("mart_player")[0]["handed"]
    answer = _answer(weeks, lambda items: [item_name(name, context, handed) for name in names if name in items], context)
    lasts = bullets(body_lasts(player, context))
    drawn = body_table(player, context, names, handed=handed)
    legend = " ".join(words(f"body.{name}") for name in ("legend", *(["legend_hours"] if HOURS in present else [])))
    blocks: list[str | Markup] = [lasts, drawn, paragraph(legend, "quiet-note")]
    if not own:
        found = player.listed("mart_physio_association")
        blocks += [paragraph(association_sentence(row, context.numbers), "quiet-note") for row in found]
        blocks.append(_mobility(player, context))
    question = words("body.question_own" if own else "body.question")
    return Part(52, section(question, answer, *blocks, anchor="body"), body_shown=True, label="body")


def _answer(weeks: Sequence[dict[str, Any]], named: Callable[[set[str]], list[str]], context: PageContext) -> str:
    """What lies above the own normal in the newest week of which it can be told, with that week's day."""
    words, newest, who = context.words, _newest(weeks), "own" if context.audience == "player" else "their"
    of_days = [row for row in weeks if row["n_answers"] >= MARKED_DAYS and row["week_starting"] >= newest - timedelta(weeks=1)]
    if not of_days:
        return words("body.too_few", week=words.day(newest))
    told = [row for row in of_days if row["normal"] is not None]
    if not told:
        return words(f"body.learning_{who}")
    week = max(row["week_starting"] for row in told)
    above = {row["item"] for row in told if row["week_starting"] == week and row["n_days_above"] >= MARKED_DAYS}
    key = "above" if above - {HOURS} else "nothing_above"
    answer = words(f"body.{key}_{who}", items=words.listing(named(above - {HOURS})), week=words.day(week))
    return f"{answer} {words(f'body.below_{who}', items=item_name(HOURS, context))}" if HOURS in above else answer


HOURS = "sleep_h"
"""The one item of which less is worse."""

_STATES = ("fatigue", "soreness", "stress", "sleep_trouble", HOURS)


def _mobility(player: PlayerMarts, context: PageContext) -> Markup:
    screens = player.listed("mart_physio_mobility")
    if not screens:
        return Markup("")
    words, number = context.words, context.words.number
    last = {(row["test"], row["side"]): row for row in screens}
    heads = [Head(words("mobility.test"), first=True), Head(words("mobility.day"))]
    heads += [Head(words(f"mobility.{name}"), "°", number=True) for name in ("value", "change", "detectable")]
    rows: list[list[str | Cell]] = [
        [
            words(
                "mobility.name", test=words.either(f"mobility.{row['test']}", row["test"]), side=words(f"mobility.{row['side']}")
            ),
            words.short_day(row["date"]),
            number(row["value_deg"], 0),
            "" if row["since_first_deg"] is None else number(row["since_first_deg"], 0, signed=True),
            Cell(number(row["detectable_deg"], 1), note="" if row["is_published"] else words("mobility.own_choice")),
        ]
        for row in last.values()
    ]
    return joined([Markup("<h3>{}</h3>").format(words("mobility.title")), table(heads, rows, caption=words("mobility.title"))])


def player_sections(player: PlayerMarts, context: PageContext) -> Iterator[Part]:
    """Sections 5 and 52: availability (coach), body (physio and the player)."""
    part = (_availability_section if context.audience == "coach" else _body_section)(player, context)
    if part is not None:
        yield part


def _worst(rows: pl.DataFrame) -> pl.DataFrame:
    """The stiffest region of each player and week, regions above the own normal first."""
    regions = rows.filter(pl.col("region") != "").with_columns(is_above=pl.col("n_days_above") >= MARKED_DAYS)
    ordered = regions.sort("is_above", "mean_answer", "item", descending=[True, True, False])
    return ordered.unique(["player_id", "week_starting"], keep="first", maintain_order=True)


def _squad_cell(row: dict[str, Any] | None, context: PageContext) -> Cell:
    cell = heat_cell(row, context)
    quiet = row is None or (row["n_days_above"] < MARKED_DAYS and _above(row) < STEPS[0])
    return cell if quiet else Cell(cell.shown, note=region_name(row["region"], context.words))  # type: ignore[index] # not None here


def _concern(row: dict[str, Any]) -> tuple[bool, float]:
    """How much a player's week asks: whether days lay above the own normal, and by how much."""
    return bool(row["is_above"]), _above(row)


NOT_TOLD = (False, -99.0)
"""Who has no week that can be told stands last."""


def _judged(worst: pl.DataFrame, newest: date) -> pl.DataFrame:
    """Of each player the newer of the last two weeks with answers of two days or more and a normal to hold them against."""
    lately = worst.filter(pl.col("week_starting") >= newest - timedelta(weeks=1))
    told = lately.filter(pl.col("n_answers") >= MARKED_DAYS, pl.col("normal").is_not_null())
    return told.sort("player_id", "week_starting").unique("player_id", keep="last", maintain_order=True)


def _lead(judged: pl.DataFrame, newest: date, context: PageContext) -> str:
    """How many are above their own normal, of those of whom it can be told."""
    words, since = context.words, context.words.day(newest - timedelta(weeks=1))
    n_above, n = int(judged["is_above"].sum()), judged.height
    if not n:
        return words("body.lead_unknown", since=since)
    if not n_above:
        return words.count("body.lead_none", n, since=since)
    return words.count("body.lead", n_above, all=words.number(n, 0), since=since)


def pages(marts: Marts, context: PageContext) -> Iterator[Page]:
    """The physio's page: the stiffest region of each player, week by week."""
    if marts.audience != "physio":
        return
    words, weeks = context.words, marts.rows("mart_physio_body_week")
    title = words("body.title")
    if weeks.is_empty():
        yield Page(PATH, title, paragraph(words("body.nobody")), nav="body.title", order=16, body_shown=True)
        return
    worst = _worst(weeks)
    mondays = week_heads(weeks["week_starting"].max(), WEEKS)  # type: ignore[arg-type] # a date column with rows
    found = {(row["player_id"], row["week_starting"]): row for row in worst.iter_rows(named=True)}
    heads = [Head(words("squad.player"), first=True)]
    heads += [Head(words.short_day(monday).rsplit(" ", 1)[0], number=True) for monday in mondays]
    answered = set(weeks["player_id"])
    players = (
        marts.rows("mart_physio_player").filter(pl.col("player_id").is_in(sorted(answered))).sort(natural("alias"), "player_id")
    )
    judged, of = _judged(worst, mondays[0]), pl.col("player_id")
    asks = {row["player_id"]: _concern(row) for row in judged.iter_rows(named=True)}
    ordered = sorted(players.to_dicts(), key=lambda row: asks.get(row["player_id"], NOT_TOLD), reverse=True)
    rows = [
        Row([Cell(link(context.href(PATH, f"{context.player_path(row['player_id'])}#body"), row["alias"]), row["alias"]),
             *(_squad_cell(found.get((row["player_id"], monday)), context) for monday in mondays)])
        for row in ordered
    ]  # fmt: skip
    listing = table(heads, rows, caption=words("body.squad_table", n=WEEKS), sortable=True, kind="heat-map")
    body = joined([listing, paragraph(words("body.legend"), "quiet-note")])
    yield Page(
        PATH,
        title,
        body,
        lead=_lead(judged, mondays[0], context),
        group_leads=leads_by_group(marts, lambda ids: _lead(judged.filter(of.is_in(sorted(ids))), mondays[0], context)),
        nav="body.title",
        order=16,
        kind="page wide",  # twelve weeks with the names of regions: upright the browser would print them too small
        body_shown=True,
    )
