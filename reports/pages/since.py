"""The player's section on returns to normal, since breaks and changes; it knows nothing of their reasons."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

from reports.findings.flags import capital, club_name, metric_name
from reports.findings.since import ORDER, earlier_sentence, return_cells, return_sentence, session_cell
from reports.pages.frame import Part
from reports.pages.parts import bullets, evidence, paragraph, section
from reports.tables import Cell, Head, table

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from datetime import date

    from markupsafe import Markup

    from reports.pages.context import PageContext
    from warehouse.marts import PlayerMarts, Row

FRESH, WHOLE = timedelta(days=84), timedelta(days=183)
"""How long after a break or change the player's letter speaks of it, and how long it is shown whole; then in a sentence."""


def _place(row: Row) -> tuple[Any, ...]:
    """Driver first, then speed, scatter, direction, session by session."""
    metric = ORDER.index(row["metric"]) if row["metric"] in ORDER else len(ORDER)
    return row["club_group"] != "driver", row["club_group"], metric, row["n_since"]


def _by_day(rows: Sequence[Row]) -> dict[date, list[Row]]:
    """Rows by the day of the break or change, the newest first."""
    found: dict[date, list[Row]] = {}
    for row in sorted(rows, key=_place):
        found.setdefault(row["since_on"], []).append(row)
    return dict(sorted(found.items(), reverse=True))


def _newest(rows: Sequence[Row]) -> list[Row]:
    """What is known now of each quantity of the main club."""
    return list({row["metric"]: row for row in rows if row["club_group"] == rows[0]["club_group"]}.values())


def fresh_return(player: PlayerMarts, last_on: date | None) -> list[Row]:
    """The newest return with the main club, for the player's letter; empty where it lies more than 12 weeks back."""
    days = _by_day(player.listed("mart_session_since"))
    newest = next(iter(days), None)
    return _newest(days[newest]) if newest is not None and last_on is not None and newest > last_on - FRESH else []


def _table(rows: list[Row], context: PageContext) -> Markup:
    words = context.words
    heads = [
        Head(words("since.quantity"), first=True),
        Head(words("since.before"), number=True),
        Head(words("since.now"), number=True),
        Head(words("since.change"), number=True),
        Head(words("since.usual"), number=True),
        Head(words("since.state_head")),
        Head(words("since.first")),
    ]
    cells = [[Cell(text, text, note) for text, note in return_cells(row, context.numbers)] for row in rows]
    return table(
        heads,
        cells,
        caption=words("since.caption", club=club_name(rows[0]["club_group"], words)),
        kind="stack wide",
    )


def _by_session(rows: Sequence[Row], context: PageContext) -> Markup:
    """Every session with the main club, in a fold."""
    words = context.words
    club = rows[0]["club_group"]
    struck = [row for row in rows if row["club_group"] == club and row["session_id"] is not None]
    found = {(row["on_date"], row["session_id"], row["metric"]): row for row in struck}
    sessions = sorted({key[:2] for key in found})
    metrics = [name for name in ORDER if name in {row["metric"] for row in struck}]
    heads = [Head(words("since.session"), first=True)]
    heads += [Head(capital(metric_name(name, words)), number=True) for name in metrics]
    cells = [
        [words.short_day(key[0]), *(session_cell(found.get((*key, name)), context.numbers) for name in metrics)]
        for key in sessions
    ]
    return evidence(words("since.by_session"), table(heads, cells, caption=words("since.cells"), kind="stack"))


def player_sections(player: PlayerMarts, context: PageContext) -> Iterator[Part]:
    """Section 62."""
    words, by_day = context.words, _by_day(player.listed("mart_session_since"))
    if not by_day:
        return
    days = list(by_day)
    last_on = player.listed("mart_player")[0]["last_session_on"]
    is_whole = last_on is None or days[0] > last_on - WHOLE
    told = {one: _newest(rows) for one, rows in by_day.items()}
    earlier = bullets([earlier_sentence(told[one], words) for one in days[is_whole:]])
    if not is_whole:
        yield Part(62, section(words("since.question_past"), "", earlier, anchor="since"), label="since")
        return
    newest = by_day[days[0]]
    struck = any(row["session_id"] is not None for row in newest)
    blocks = [_table(told[days[0]], context), *([_by_session(newest, context)] if struck else [])]
    until = max((row["on_date"] for row in newest if row["on_date"] is not None), default=None)
    span = f"{words('since.window', until=words.short_day(until))} " if until is not None else ""
    blocks.append(paragraph(f"{span}{words('since.note')}", "quiet-note"))
    blocks += [paragraph(words("since.earlier")), earlier] if len(days) > 1 else []
    question = words("since.question", day=words.short_day(days[0]))
    yield Part(62, section(question, return_sentence(told[days[0]], words), *blocks, anchor="since"), label="since")
