"""The player's section on returns to normal, since breaks and changes; it knows nothing of their reasons."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING, Any

import polars as pl

from reports.findings.flags import capital, club_name, metric_name
from reports.findings.since import ORDER, earlier_sentence, return_cells, return_sentence, session_cell
from reports.pages.frame import Part
from reports.pages.parts import bullets, evidence, paragraph, section
from reports.tables import Cell, Head, table

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from markupsafe import Markup

    from reports.pages.context import PageContext
    from warehouse.marts import PlayerMarts

FRESH, WHOLE = timedelta(days=84), timedelta(days=183)
"""How long after a break or change the player's letter speaks of it, and how long it is shown whole; then in a sentence."""


def _groups_first(rows: pl.DataFrame) -> pl.DataFrame:
    """Driver first, then speed, scatter, direction, session by session."""
    place = pl.col("metric").replace_strict({name: at for at, name in enumerate(ORDER)}, default=len(ORDER))
    return rows.sort("since_on", pl.col("club_group") != "driver", "club_group", place, "n_since")


def _newest(rows: pl.DataFrame) -> list[dict[str, Any]]:
    """What is known now of each quantity of each group of clubs."""
    return rows.group_by("club_group", "metric", maintain_order=True).last().select(rows.columns).to_dicts()


def _of_main_club(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [row for row in rows if row["club_group"] == rows[0]["club_group"]]


def fresh_return(player: PlayerMarts, last_on: date | None) -> list[dict[str, Any]]:
    """The newest return with the main club, for the player's letter; empty where it lies more than 12 weeks back."""
    rows = _groups_first(player.rows("mart_session_since"))
    if rows.is_empty() or last_on is None:
        return []
    newest = rows.filter(pl.col("since_on") == pl.col("since_on").max())
    return _of_main_club(_newest(newest)) if newest["since_on"][0] > last_on - FRESH else []


def _table(rows: list[dict[str, Any]], context: PageContext) -> Markup:
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


def _by_session(rows: pl.DataFrame, context: PageContext) -> Markup:
    """Every session with the main club, in a fold."""
    words = context.words
    club = rows["club_group"][0]
    struck = rows.filter(pl.col("club_group") == club, pl.col("session_id").is_not_null())
    found = {(row["on_date"], row["session_id"], row["metric"]): row for row in struck.to_dicts()}
    sessions = sorted({key[:2] for key in found})
    metrics = [name for name in ORDER if name in set(struck["metric"])]
    heads = [Head(words("since.session"), first=True)]
    heads += [Head(capital(metric_name(name, words)), number=True) for name in metrics]
    cells = [
        [words.short_day(key[0]), *(session_cell(found.get((*key, name)), context.numbers) for name in metrics)]
        for key in sessions
    ]
    return evidence(words("since.by_session"), table(heads, cells, caption=words("since.cells"), kind="stack"))


def player_sections(player: PlayerMarts, context: PageContext) -> Iterator[Part]:
    """Section 62."""
    words, rows = context.words, _groups_first(player.rows("mart_session_since"))
    if rows.is_empty():
        return
    days = rows["since_on"].unique().sort(descending=True).to_list()
    last_on = player.rows("mart_player")["last_session_on"][0]
    is_whole = last_on is None or days[0] > last_on - WHOLE
    told = {one: _of_main_club(_newest(rows.filter(pl.col("since_on") == one))) for one in days}
    earlier = bullets([earlier_sentence(told[one], words) for one in days[is_whole:]])
    if not is_whole:
        yield Part(62, section(words("since.question_past"), "", earlier, anchor="since"), label="since")
        return
    newest = rows.filter(pl.col("since_on") == days[0])
    blocks = [_table(told[days[0]], context), *([_by_session(newest, context)] if newest["session_id"].count() else [])]
    until = newest["on_date"].max()
    span = f"{words('since.window', until=words.short_day(until))} " if until is not None else ""  # type: ignore[arg-type]
    blocks.append(paragraph(f"{span}{words('since.note')}", "quiet-note"))
    blocks += [paragraph(words("since.earlier")), earlier] if len(days) > 1 else []
    question = words("since.question", day=words.short_day(days[0]))
    yield Part(62, section(question, return_sentence(told[days[0]], words), *blocks, anchor="since"), label="since")
