"""Squad: every player on one line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.pages.frame import Page
from reports.pages.parts import link
from reports.tables import Cell, Head, Row, table

if TYPE_CHECKING:
    from collections.abc import Iterator

    from reports.pages.desk import Desk
    from warehouse.marts import Marts

PATH = "squad.html"


def pages(marts: Marts, desk: Desk) -> Iterator[Page]:
    """The squad page of coach and physio."""
    if marts.audience == "player":
        return
    words, players = desk.words, marts.rows("mart_player").sort("alias", "player_id")
    heads = [Head(words("squad.player"), first=True), Head(words("squad.sessions"), number=True)]
    rows = [
        Row(
            [
                Cell(link(desk.href(PATH, desk.player_path(row["player_id"])), row["alias"]), row["alias"]),
                words.number(row["n_sessions"], 0),
            ]
        )
        for row in players.iter_rows(named=True)
    ]
    body = table(heads, rows, caption=words("squad.caption"), sortable=True, kind="stack")
    lead = words.count("squad.lead", players.height)
    yield Page(PATH, words("squad.title"), body, lead=lead, nav="squad.title", order=20)
