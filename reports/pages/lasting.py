"""The player's section on what lasts: levels that still differ from the first normal or from a year ago."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.findings.flags import capital, club_name, metric_name
from reports.findings.trend import change_text
from reports.numbers import METRIC_QUANTITY
from reports.pages.frame import Part
from reports.pages.parts import section
from reports.tables import Head, table

if TYPE_CHECKING:
    from collections.abc import Iterator

    from reports.pages.context import PageContext
    from warehouse.marts import PlayerMarts


def player_sections(player: PlayerMarts, context: PageContext) -> Iterator[Part]:
    """Section 65."""
    words, numbers = context.words, context.numbers
    rows = player.rows("mart_lasting").sort("metric", "club_group", "against")
    if rows.is_empty():
        yield Part(65, section(words("lasting.title"), words("lasting.none")))
        return
    heads = [
        Head(words("lasting.quantity"), first=True),
        Head(words("lasting.against")),
        Head(words("lasting.then"), number=True),
        Head(words("lasting.now"), number=True),
        Head(words("lasting.change"), number=True),
        Head(words("lasting.interval"), number=True),
    ]
    cells = []
    for row in rows.iter_rows(named=True):
        quantity, metric = METRIC_QUANTITY[row["metric"]], row["metric"]
        low, high = (change_text(metric, row[name], numbers) for name in ("change_low", "change_high"))
        cells.append(
            [
                capital(f"{metric_name(metric, words)}, {club_name(row['club_group'], words)}"),
                words(f"lasting.{row['against']}", day=words.short_day(row["then_on"])),
                numbers.with_unit(quantity, row["then_level"]),
                numbers.with_unit(quantity, row["now_level"]),
                change_text(metric, row["change"], numbers),
                words("numbers.interval", low=low, high=high),
            ]
        )
    said = words.count("lasting.said", rows.height)
    listing = table(heads, cells, caption=words("lasting.caption"), kind="stack wide")
    yield Part(65, section(words("lasting.title"), said, listing))
