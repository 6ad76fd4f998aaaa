"""Squad: every player on one line, to sort and to filter."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl
from markupsafe import Markup

from reports.pages.frame import Page
from reports.pages.parts import joined, link, paragraph
from reports.sparkline import Scale, shared_scale, sparkline
from reports.tables import Cell, Head, Row, table

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from reports.pages.desk import Desk
    from warehouse.marts import Marts

PATH = "squad.html"
MONTHS = 12
Lines = dict[str, list[float | None]]


def _last_months(last_on: date) -> list[date]:
    year, month = last_on.year, last_on.month
    steps = [(year * 12 + month - 1 - back) for back in range(MONTHS - 1, -1, -1)]
    return [last_on.replace(year=step // 12, month=step % 12 + 1, day=1) for step in steps]


def speed_lines(months: pl.DataFrame, last_on: date, factor: float) -> Lines:
    """Each player's driver speed in the last twelve months, null where a month has none."""
    wanted = _last_months(last_on)
    driver = months.filter(pl.col("club_group") == "driver", pl.col("month_on").is_in(wanted))
    found: Lines = {}
    for player_id, month_on, speed in driver.select("player_id", "month_on", "club_speed_mps").iter_rows():
        line = found.setdefault(player_id, [None] * MONTHS)
        line[wanted.index(month_on)] = None if speed is None else speed * factor
    return found


def _spark(desk: Desk, row: dict[str, Any], line: list[float | None], scale: Scale) -> Cell:
    known = [value for value in line if value is not None]
    if not known:
        return Cell("")
    words, unit = desk.words, desk.numbers.unit("speed")
    alt = words("squad.line_alt", first=words.number(known[0], 1), last=words.number(known[-1], 1), unit=unit, alias=row["alias"])
    return Cell(sparkline(line, scale, alt), known[-1] - known[0])


def _status(row: dict[str, Any]) -> str:
    return "left" if row["left_on"] else "here"


def _cells(row: dict[str, Any], desk: Desk, spark: Cell) -> list[str | Cell]:
    words, numbers = desk.words, desk.numbers
    name = link(desk.href(PATH, desk.player_path(row["player_id"])), row["alias"])
    seen = words.short_day(row["last_session_on"]) if row["last_session_on"] else words("squad.never")
    note = words("squad.left") if row["left_on"] else ""
    return [
        Cell(name, row["alias"], note),
        Cell(
            numbers.bare("speed", row["club_speed_28_mps"]), row["club_speed_28_mps"], words.count("n.shots", row["n_shots_28"])
        ),
        spark,
        Cell(numbers.bare("spread", row["lateral_spread_28_m"]), row["lateral_spread_28_m"]),
        Cell(numbers.bare("count", row["swings_7"]), row["swings_7"], _usual(row, desk)),
        Cell(words("squad.of", n=row["n_answers_14"], all=14), row["n_answers_14"]),
        Cell(seen, row["last_session_on"].isoformat() if row["last_session_on"] else None),
    ]


def _usual(row: dict[str, Any], desk: Desk) -> str:
    if row["swings_week"] is None:
        return ""
    return desk.words("squad.usual", n=desk.numbers.bare("count", row["swings_week"]))


def _heads(desk: Desk) -> list[Head]:
    words, numbers = desk.words, desk.numbers
    return [
        Head(words("squad.player"), first=True),
        Head(words("squad.speed"), numbers.unit("speed"), number=True),
        Head(words("squad.year"), words("squad.year_unit", unit=numbers.unit("speed"))),
        Head(words("squad.scatter"), numbers.unit("spread"), number=True),
        Head(words("squad.swings"), words("squad.last_7"), number=True),
        Head(words("squad.answers"), words("squad.last_14"), number=True),
        Head(words("squad.seen")),
    ]


def _sieve(desk: Desk) -> Markup:
    words = desk.words
    options = Markup("").join(
        Markup('<option value="{}">{}</option>').format(value, words(f"squad.show_{value or 'all'}"))
        for value in ("", "here", "left")
    )
    return Markup(
        '<div class="sieve" data-for="squad" hidden><div><label for="find">{}</label><input id="find" type="search"></div>'
        '<div><label for="choose">{}</label><select id="choose">{}</select></div>'
        '<output aria-live="polite" data-text="{}"></output></div>'
    ).format(words("squad.find"), words("squad.show"), options, words.texts["squad.shown"])


def pages(marts: Marts, desk: Desk) -> Iterator[Page]:
    """The squad page of coach and physio."""
    if marts.audience == "player":
        return
    words, squad = desk.words, marts.rows("mart_squad").sort("alias", "player_id")
    lines = speed_lines(marts.rows("mart_player_month"), desk.as_of, desk.numbers.quantity("speed").factor)
    scale = shared_scale(list(lines.values()))
    rows = [
        Row(
            _cells(row, desk, _spark(desk, row, lines.get(row["player_id"], []), scale)),
            find=row["alias"],
            tags=(_status(row),),
        )
        for row in squad.iter_rows(named=True)
    ]
    listing = table(_heads(desk), rows, caption=words("squad.caption"), sortable=True, kind="stack")
    note = paragraph(words("squad.note", span=words.number(scale.span, 1), unit=desk.numbers.unit("speed")), "quiet-note")
    body = joined([_sieve(desk), Markup('<div id="squad">{}</div>').format(listing), note])
    n_here = squad.filter(pl.col("left_on").is_null()).height
    lead = words.count("squad.lead", n_here, day=words.day(desk.as_of))
    yield Page(PATH, words("squad.title"), body, lead=lead, nav="squad.title", order=20)
