"""The table of two seasons side by side, and the same as data for the script that exchanges them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.findings.side_by_side import MEASURES, Measure, Season, Value, comparable, difference, digits, named, said_name, span
from reports.tables import Cell, Head, table

if TYPE_CHECKING:
    from collections.abc import Sequence

    from markupsafe import Markup

    from reports.pages.context import PageContext


def _note(measure: Measure, value: Value, context: PageContext) -> str:
    words, places = context.words, digits(measure, context.numbers)
    n = words.count(measure.counted, value.n)
    if value.low is None or value.high is None:
        return n
    interval = words("numbers.interval", low=words.number(value.low, places), high=words.number(value.high, places))
    return words("side.note", interval=interval, n=n)


def _cell(measure: Measure, value: Value | None, context: PageContext) -> str | Cell:
    if value is None:
        return Cell("\N{EN DASH}", note=context.words("side.unknown"))
    return Cell(context.words.number(value.value, digits(measure, context.numbers)), value.value, _note(measure, value, context))


def _difference(measure: Measure, first: Value | None, second: Value | None, context: PageContext) -> str | Cell:
    words, places = context.words, digits(measure, context.numbers)
    if first is None or second is None:
        return Cell("\N{EN DASH}", note=words("side.missing"))
    if not comparable(first, second):
        return Cell("\N{EN DASH}", note=words("side.not_alike"))
    found = difference(first, second, places)
    shown = words.number(found.value, places, signed=True)
    if found.low is None or found.high is None:
        return Cell(shown, found.value, words("side.counted"))
    ends = (words.number(end, places, signed=True) for end in (found.low, found.high))
    interval = words("numbers.interval", **dict(zip(("low", "high"), ends, strict=True)))
    return Cell(shown, found.value, words("side.is_clear" if found.is_clear else "side.is_open", interval=interval))


def shown_measures(every: Sequence[Season]) -> list[Measure]:
    """Measures that at least one of the seasons has."""
    return [measure for measure in MEASURES if any(measure.key in season.values for season in every)]


def side_table(
    first: Season, second: Season | None, titles: tuple[str, str], course: str, context: PageContext, every: Sequence[Season] = ()
) -> Markup:
    """Two seasons and their difference; one season alone where there is no second.

    Parameters
    ----------
    first, second : Season
    titles : tuple of str
        Names of the two columns.
    course : str
        The course whose strokes are shown.
    context : PageContext
    every : sequence of Season
        Seasons that the table may come to show: a row stands for each measure that one of them has.
    """
    words, numbers = context.words, context.numbers
    both = [first, *([second] if second else [])]
    heads = [Head(words("side.quantity"), first=True)]
    heads += [Head(title, span(season, numbers), number=True) for title, season in zip(titles, both, strict=False)]
    if second:
        heads.append(Head(words("side.difference"), words("side.less"), number=True))
    rows = []
    for measure in shown_measures(every or both):
        unit = numbers.unit(measure.quantity)
        name = Cell(named(measure, course, numbers), note=unit)
        values = [season.values.get(measure.key) for season in both]
        cells: list[str | Cell] = [name, *(_cell(measure, value, context) for value in values)]
        if second:
            cells.append(_difference(measure, values[0], values[1], context))
        rows.append(cells)
    return table(heads, rows, caption=words("side.caption"), kind="stack side")


def season_data(season: Season, measures: Sequence[Measure], context: PageContext) -> dict[str, Any]:
    """One season for the script: its span, and value, ends and n of each measure."""
    found = [season.values.get(measure.key) for measure in measures]
    values = [None if one is None else [one.value, one.low, one.high, one.n, one.against] for one in found]
    return {"span": span(season, context.numbers), "values": values}


def measure_data(measure: Measure, course: str, context: PageContext) -> dict[str, Any]:
    """One row for the script: name, unit, decimals, and how its n is said."""
    words = context.words
    return {
        "name": named(measure, course, context.numbers),
        "said": said_name(measure, course, context.numbers),
        "unit": context.numbers.unit(measure.quantity),
        "digits": digits(measure, context.numbers),
        "one": words.texts[f"{measure.counted}.one"],
        "other": words.texts[f"{measure.counted}.other"],
        "estimated": measure.has_interval,
    }
