"""Squad: every player on one line, to sort and to filter."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl
from markupsafe import Markup

from reports.federation.beside import beside
from reports.findings.load_body import assumed_note, days_of_week
from reports.findings.order import mark_of
from reports.findings.trend import change_text, ends_text, relative_pct
from reports.markup import joined
from reports.numbers import DASH
from reports.pages.finding_lines import marked
from reports.pages.frame import Page
from reports.pages.groups import leads_by_group
from reports.pages.parts import in_words, link, paragraph
from reports.sparkline import Scale, shared_scale, sparkline
from reports.story import FLAGS, Story, story_row
from reports.tables import Cell, Head, Row, table
from schemas.natural_order import natural

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from reports.pages.context import PageContext
    from warehouse.marts import Marts

PATH = "squad.html"
MONTHS = 12
SPEED = "club_speed_mps"
CHOICES = ("", "alert", "flag", "up", "down", "here", "left")
CALLED = ("up", "down", "flat", "open", "learning", "past", "none")
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


def _spark(context: PageContext, line: _Line, drawn: list[float | None], scale: Scale) -> Cell:
    known = [value for value in drawn if value is not None]
    change, said = _year(line.then, context)
    if not known:
        return Cell("" if line.row["speed_level_mps"] is not None else DASH, change, said if change is not None else "")
    words, unit, alias = context.words, context.numbers.unit("speed"), line.row["alias"]
    alt = words("squad.line_alt", first=words.number(known[0], 1), last=words.number(known[-1], 1), unit=unit, alias=alias)
    return Cell(sparkline(drawn, scale, alt), change, said)


def _year(then: dict[str, Any] | None, context: PageContext) -> tuple[float | None, str]:
    """The change of driver speed in twelve months with its interval, from the player's record, or why there is none."""
    words, numbers = context.words, context.numbers
    if then is None or then["against"] != "year":
        return None, words("squad.no_year")
    interval = ends_text(then, "change_low", "change_high", SPEED, numbers)
    return then["change"], words("squad.year_change", change=change_text(SPEED, then["change"], numbers), interval=interval)


@dataclass(frozen=True)
class _Line:
    """One player's row of the mart with what other marts add."""

    row: dict[str, Any]
    called: str
    strokes: dict[str, Any] | None
    then: dict[str, Any] | None
    now: tuple[float | None, float | None]
    n_alerts: int
    n_notices: int
    n_good: int

    @property
    def n_open(self) -> int:
        """Findings that are open, good news too."""
        return self.n_alerts + self.n_notices + self.n_good

    def tags(self) -> tuple[str, ...]:
        """Values of the choice box that keep this row."""
        wanted = {
            "left" if self.row["has_left"] else "here": True,
            "alert": self.n_alerts > 0,
            "flag": self.n_open > 0,
            self.called: True,
        }
        return tuple(name for name, holds in wanted.items() if holds)


def _lines(marts: Marts) -> list[_Line]:
    flags = marts.rows(FLAGS[marts.audience]).filter(pl.col("closed_on").is_null())
    counts = Counter((row["player_id"], mark_of(row)) for row in flags.iter_rows(named=True))
    stories = {row["player_id"]: story_row(row) for row in marts.rows("mart_story").iter_rows(named=True)}
    nothing = Story(None, None, None, ())
    return [
        _Line(
            row,
            stories.get(row["player_id"], nothing).called or "none",
            stories.get(row["player_id"], nothing).strokes,
            stories.get(row["player_id"], nothing).then,
            stories.get(row["player_id"], nothing).now,
            counts[row["player_id"], "alert"],
            counts[row["player_id"], "notice"],
            counts[row["player_id"], "good"],
        )
        for row in marts.rows("mart_squad").sort(natural("alias"), "player_id").iter_rows(named=True)
    ]


def _open_flags(line: _Line, context: PageContext) -> Cell:
    words = context.words
    counts = (("alert", line.n_alerts), ("notice", line.n_notices), ("good", line.n_good))
    parts = [marked(kind, words.count(f"squad.n_{kind}s", n)) for kind, n in counts if n]
    return Cell(Markup("<br>").join(parts), 100 * line.n_alerts + line.n_notices + line.n_good / 100)


def _speed_cells(line: _Line, context: PageContext) -> list[str | Cell]:
    words, numbers, row = context.words, context.numbers, line.row
    level = numbers.interval("speed", row["speed_level_low_mps"], row["speed_level_high_mps"])
    if line.called == "past" and None not in line.now:
        level = numbers.interval("speed", *line.now)
    change = DASH if line.called == "past" else change_text("club_speed_mps", row["change_28"], numbers)
    called: str | Markup = words.either(f"squad.called_{line.called}", "")
    if change != DASH and row["change_28"] is not None:
        low, high = (relative_pct(row[f"change_28_{end}"]) for end in ("low", "high"))
        called = Markup("{}<br>{}").format(words.ends(low, high, 1), in_words(called))
    known = row["speed_level_mps"] is not None
    return [
        Cell(numbers.bare("speed", row["speed_level_mps"]), note=level if known else ""),
        Cell(change, note=called),
    ]


def _spread_cell(row: dict[str, Any], context: PageContext) -> Cell:
    numbers, low, high = context.numbers, row["lateral_spread_low_m"], row["lateral_spread_high_m"]
    known = low is not None and high is not None
    return Cell(numbers.bare("spread", row["lateral_spread_28_m"]), note=numbers.interval("spread", low, high) if known else "")


def _strokes_cell(line: _Line, context: PageContext) -> Cell:
    numbers, row = context.numbers, line.strokes
    if row is None or row["change"] is None:
        return Cell(DASH)
    words, notes = numbers.words, [numbers.words.ends(row["change_low"], row["change_high"], 1)]
    if line.called == "past":
        notes.append(words("squad.strokes_until", month=words.short_month(row["month_on"])))
    return Cell(words.number(row["change"], 1, signed=True), note=Markup("<br>").join(notes))


def _shows_load(context: PageContext) -> bool:
    return context.audience != "coach" or context.academy.access.coach_sees_load


def _usual(row: dict[str, Any], context: PageContext) -> Markup:
    notes = [in_words(days_of_week(row, context.words))]
    if row["week_swings"] is not None and row["usual_week_swings"] is not None:
        notes.append(in_words(context.words("squad.usual", n=context.numbers.bare("count", row["usual_week_swings"]))))
    return Markup("<br>").join(filter(None, notes))


def _cells(line: _Line, context: PageContext, spark: Cell) -> list[str | Cell]:
    words, numbers, row = context.words, context.numbers, line.row
    name = link(context.href(PATH, context.player_path(row["player_id"])), row["alias"])
    seen = words.short_day(row["last_session_on"]) if row["last_session_on"] else words("squad.never")
    return [
        Cell(name, note=words("squad.left") if row["has_left"] else ""),
        _open_flags(line, context),
        *_speed_cells(line, context),
        spark,
        _spread_cell(row, context),
        *([_strokes_cell(line, context)] if context.audience == "coach" else []),
        *([Cell(numbers.bare("count", row["week_swings"]), note=_usual(row, context))] if _shows_load(context) else []),
        words("squad.not_shared") if row["n_answers_14"] is None else words("squad.of", n=row["n_answers_14"], all=14),
        Cell(seen, row["last_session_on"].isoformat() if row["last_session_on"] else None),
    ]


def _heads(home: str, context: PageContext) -> list[Head]:
    words, numbers = context.words, context.numbers
    strokes = Head(words("squad.strokes"), words("squad.against_then", course=home), number=True)
    return [
        Head(words("squad.player"), first=True),
        Head(words("squad.flags")),
        Head(words("squad.speed"), numbers.unit("speed"), number=True),
        Head(words("squad.change"), words("squad.in_28"), number=True),
        Head(words("squad.year"), words("squad.year_unit", unit=numbers.unit("speed"))),
        Head(words("squad.scatter"), numbers.unit("spread"), number=True),
        *([strokes] if context.audience == "coach" else []),
        *([Head(words("squad.swings"), words("squad.last_7"), number=True)] if _shows_load(context) else []),
        Head(words("squad.answers"), words("squad.last_14"), number=True),
        Head(words("squad.seen")),
    ]


def _sieve(context: PageContext) -> Markup:
    words = context.words
    options = Markup("").join(
        Markup('<option value="{}">{}</option>').format(value, words(f"squad.show_{value or 'all'}")) for value in CHOICES
    )
    return Markup(
        '<div class="sieve" data-for="squad" hidden><div><label for="find">{}</label><input id="find" type="search"></div>'
        '<div><label for="choose">{}</label><select id="choose">{}</select></div>'
        '<output aria-live="polite" data-text="{}" data-none="{}"></output><button type="button" hidden>{}</button></div>'
    ).format(
        *(words("squad.find"), words("squad.show"), options),
        *(words.texts["squad.shown"], words("squad.none_shown"), words("squad.show_again")),
    )


def _lead(lines: list[_Line], context: PageContext) -> str:
    words = context.words
    called = [line.called for line in lines if not line.row["has_left"]]
    parts = [words(f"squad.part_{name}", n=words.number(called.count(name), 0)) for name in CALLED if name in called]
    return words.count(
        "squad.lead", len(called), day=words.day(context.as_of), parts=words.listing(parts) or words("squad.nobody")
    )


def pages(marts: Marts, context: PageContext) -> Iterator[Page]:
    """The squad page of coach and physio."""
    if marts.audience not in {"coach", "physio"}:
        return
    words, lines = context.words, _lines(marts)
    drawn = speed_lines(marts.rows("mart_player_month"), context.as_of, context.numbers.quantity("speed").factor)
    scale = shared_scale(list(drawn.values()))
    rows = [
        Row(
            _cells(line, context, _spark(context, line, drawn.get(line.row["player_id"], []), scale)),
            tags=line.tags(),
        )
        for line in lines
    ]
    listing = table(
        _heads(context.home_phrase(marts), context), rows, caption=words("squad.caption"), sortable=True, kind="stack dense"
    )
    strokes = words("squad.noted.strokes") if context.audience == "coach" else ""
    span = words.number(scale.span, 1)
    has_lines = span != words.number(0.0, 1)
    drawn_lines = words("squad.noted.lines", span=span, unit=context.numbers.unit("speed")) if has_lines else ""
    swings = words("squad.noted.swings") if _shows_load(context) else ""
    said = words("squad.note", strokes=strokes, lines=drawn_lines, swings=swings)
    note = paragraph(f"{said} {assumed_note(context.academy, words)}".rstrip(), "quiet-note")
    body = joined([_sieve(context), Markup('<div id="squad">{}</div>').format(listing), note, beside(marts, context)])
    leads = leads_by_group(marts, lambda ids: _lead([line for line in lines if line.row["player_id"] in ids], context))
    yield Page(
        PATH,
        words("squad.title"),
        body,
        lead=_lead(lines, context),
        group_leads=leads,
        nav="squad.title",
        order=20,
        kind="page wide",
    )
