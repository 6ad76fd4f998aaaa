"""The player's section on transfer: what became of a gain of club speed on its way to carry, in parts that add up."""

from __future__ import annotations

from collections import Counter
from operator import itemgetter
from typing import TYPE_CHECKING, Any

import polars as pl

from reports.chart_rows import tuple_rows
from reports.findings.ball import model_sentence, strike_sentence, transfer_sentence
from reports.pages.frame import Part
from reports.pages.parts import evidence, paragraph, section
from reports.tables import Head, table

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from markupsafe import Markup

    from reports.chart_rows import ChartRows
    from reports.pages.context import PageContext
    from warehouse.marts import PlayerMarts

PARTS = ("on_offer_m", "strike_m", "speed_ratio_m", "launch_m", "spin_m", "rest_m", "carry_change_m")


def _shown_parts(row: Mapping[str, Any]) -> list[str]:
    return [name for name in PARTS if name != "strike_m" or row["strike_known"]]


def _kind(name: str, value: float) -> str:
    ends = {"on_offer_m": "offer", "carry_change_m": "sum"}
    return ends.get(name, "gain" if value >= 0.0 else "loss")


_BARS: dict[str, Any] = {"part": pl.String, "place": pl.Int64, "value": pl.Float64, "words": pl.String, "kind": pl.String}


def _bars(row: Mapping[str, Any], context: PageContext) -> ChartRows:
    bars = [
        (
            context.words(f"transfer.part.{name}"),
            place,
            context.numbers.shown("spread", row[name]),
            context.numbers.bare("spread", row[name], signed=True),
            _kind(name, row[name]),
        )
        for place, name in enumerate(_shown_parts(row))
    ]
    return tuple_rows(bars, _BARS)


def _parts_table(row: Mapping[str, Any], context: PageContext) -> Markup:
    words, numbers = context.words, context.numbers
    heads = [Head(words("tradeoff.change"), first=True), Head(words("transfer.value"), numbers.unit("spread"), number=True)]
    cells = [[words(f"transfer.part.{name}"), numbers.bare("spread", row[name], signed=True)] for name in _shown_parts(row)]
    return table(heads, cells, caption=words("transfer.table"))


def _figure(row: Mapping[str, Any], context: PageContext) -> Markup:
    words = context.words
    return context.figure(
        "transfer",
        {"rows": _bars(row, context)},
        title=words("transfer.title", unit=context.numbers.unit("spread")),
        caption=words("transfer.caption"),
        alt=words("transfer.alt"),
        table=_parts_table(row, context),
    )


def _methods(player: PlayerMarts, context: PageContext) -> str:
    """How the carries came about, so that none is computed silently."""
    by_method: Counter[str] = Counter()
    for row in player.listed("mart_carry_method"):
        by_method[row["method"]] += row["n_shots"] if row["club_group"] == "driver" else 0
    total = by_method.total()
    items = [
        context.words(
            "transfer.method_item",
            share=context.numbers.with_unit("share", n / total),
            method=context.words(f"transfer.method.{method}"),
        )
        for method, n in sorted(by_method.items(), key=lambda each: (-each[1], each[0]))
        if total and n / total >= 0.005
    ]
    key = "transfer.methods_own" if context.audience == "player" else "transfer.methods"
    return context.words(key, items=context.words.listing(items)) if items else ""


def _unknown_ball(months: Sequence[dict[str, Any]], context: PageContext) -> str:
    """That the balls of the newest month have no known factor, so that their carry is not restated for the reference ball."""
    newest = max(months, key=itemgetter("month_on"))
    month = context.words.month(newest["month_on"])
    return "" if newest["is_factor_known"] else context.words("transfer.unknown_ball", month=month)


def player_sections(player: PlayerMarts, context: PageContext) -> Iterator[Part]:
    """Section 34, after what reaches the ball."""
    months = [row for row in player.listed("mart_transfer_month") if row["club"] == "driver"]
    if not months:
        return
    compared = [row for row in months if row["reason"] == ""]
    row = max(compared, key=itemgetter("month_on"), default=None)
    blocks = [_figure(row, context)] if row else []
    note = f"{_methods(player, context)} {_unknown_ball(months, context)}".strip()
    told = [strike_sentence(row, context.numbers), model_sentence(row, context.numbers)] if row else []
    notes = [note] if context.audience == "player" else [*told, note]
    body = [*blocks, *(paragraph(text, "quiet-note") for text in notes if text)]
    if context.audience != "player":
        body = [evidence(context.words("player.charts"), *body)]
    yield Part(34, section(context.words("transfer.question"), transfer_sentence(row, context.numbers), *body))
