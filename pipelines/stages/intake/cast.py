"""Cells of text as values, column by column; every cell that was there and could not be read is named with its reason.

Instants without an offset are local times of the academy. A local time that the clocks showed twice (autumn) counts as
the earlier of the two; one that they skipped (spring) is a problem.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from schemas.fields import POLARS_TYPE, Field
from schemas.spreadsheet import SHEET_ERRORS
from schemas.synonyms import SYNONYMS

if TYPE_CHECKING:
    from collections.abc import Callable

    from schemas.files import FileKind

CELL_FAULTS = {"row": pl.Int64(), "column": pl.String(), "value": pl.String(), "rule": pl.String()}
_FIRST_YEAR, _LAST_YEAR = 1950, 2100
_MOST_EXACT = 2.0**53

_LOCAL_FORMS = (
    "%Y-%m-%dT%H:%M:%S",  # read much faster than with fractions
    "%Y-%m-%dT%H:%M:%S%.f",
    "%Y-%m-%d %H:%M:%S%.f",
    "%Y-%m-%dT%H:%M",
    "%Y-%m-%d %H:%M",
)
_OFFSET_FORMS = (
    "%Y-%m-%dT%H:%M:%S%.f%#z",
    "%Y-%m-%d %H:%M:%S%.f%#z",
    "%Y-%m-%dT%H:%M%#z",
    "%Y-%m-%d %H:%M%#z",
)


class _Column:
    """One column on its way from text to values.

    ``value`` is what could be read; ``faults`` collects the rows that could not, by rule.
    """

    def __init__(self, name: str, text: pl.Series) -> None:
        self.name = name
        self.text = text
        self.faults: list[pl.DataFrame] = []

    def refuse(self, refused: pl.Series, rule: str) -> None:
        """Note the cells where ``refused`` is true; one that holds blanks alone is empty."""
        rows = refused.arg_true()
        if rows.len():
            rows = rows.filter(self.text.gather(rows).str.strip_chars() != "")
        if rows.len():
            self.faults.append(
                pl.DataFrame({"row": rows.cast(pl.Int64), "value": self.text.gather(rows).str.slice(0, 200)}).select(
                    "row", pl.lit(self.name).alias("column"), "value", pl.lit(rule).alias("rule")
                )
            )


def _retried(text: pl.Series, value: pl.Series, again: Callable[[pl.Series], pl.Series]) -> pl.Series:
    """Values, with a second reading of the few cells that the first could not read."""
    left = (value.is_null() & text.is_not_null()).arg_true()
    if not left.len():
        return value
    return value.scatter(left, again(text.gather(left)).cast(value.dtype))


def _number(column: _Column) -> pl.Series:
    text = column.text
    value = text.cast(pl.Float64, strict=False)
    value = _retried(text, value, lambda cells: cells.str.strip_chars().cast(pl.Float64, strict=False))
    value = pl.select(pl.when(value.is_finite()).then(value)).to_series()
    column.refuse(value.is_null() & text.is_not_null(), "not_a_number")
    return value


def _whole(cells: pl.Series) -> pl.Series:
    number = cells.str.strip_chars().cast(pl.Float64, strict=False)
    fits = (number == number.floor()) & (number.abs() <= _MOST_EXACT)
    return pl.select(pl.when(fits).then(number)).to_series().cast(pl.Int64, strict=False)


def _integer(column: _Column) -> pl.Series:
    text = column.text
    value = _retried(text, text.cast(pl.Int64, strict=False), _whole)
    refused = value.is_null() & text.is_not_null()
    if refused.any():
        numeric = text.str.strip_chars().cast(pl.Float64, strict=False).is_finite().fill_null(value=False)
        column.refuse(refused & numeric, "not_a_whole_number")
        column.refuse(refused & ~numeric, "not_a_number")
    return value


def _truth(column: _Column) -> pl.Series:
    text = column.text.str.strip_chars().str.to_lowercase()
    value = text.replace_strict({"true": True, "false": False}, default=None, return_dtype=pl.Boolean)
    column.refuse(value.is_null() & text.is_not_null(), "not_true_or_false")
    return value


def _in_years(value: pl.Series) -> pl.Series:
    year = value.dt.year()
    return pl.select(pl.when(year.is_between(_FIRST_YEAR, _LAST_YEAR)).then(value)).to_series()


def _day(column: _Column) -> pl.Series:
    text = column.text
    value = text.str.to_date("%Y-%m-%d", strict=False)
    midnight = r"^(\d{4}-\d{2}-\d{2})[T ]00:00(:00(\.0+)?)?$"
    value = _retried(
        text, value, lambda cells: cells.str.strip_chars().str.replace(midnight, "$1").str.to_date("%Y-%m-%d", strict=False)
    )
    value = _in_years(value)
    column.refuse(value.is_null() & text.is_not_null(), "not_a_day")
    return value


def _by_forms(cells: pl.Series, forms: tuple[str, ...]) -> pl.Series:
    """The first form that reads a cell decides; zoned forms give UTC."""
    value = cells.str.to_datetime(forms[0], strict=False, time_unit="us")
    for form in forms[1:]:
        if value.null_count() == cells.null_count():
            break
        other = cells.str.to_datetime(form, strict=False, time_unit="us")
        value = pl.select(pl.coalesce(value, other)).to_series()
    return value


def _to_utc(local: pl.Series, time_zone: str) -> pl.Series:
    zoned = local.dt.replace_time_zone(time_zone, ambiguous="earliest", non_existent="null")
    return zoned.dt.convert_time_zone("UTC").dt.replace_time_zone(None)


def _instant(column: _Column, time_zone: str) -> pl.Series:
    text = column.text
    local = _in_years(_by_forms(text, _LOCAL_FORMS))
    local = _retried(text, local, lambda cells: _in_years(_by_forms(cells.str.strip_chars(), _LOCAL_FORMS)))
    value = _to_utc(local, time_zone)
    column.refuse(value.is_null() & local.is_not_null(), "time_does_not_exist")
    left = (local.is_null() & text.is_not_null()).arg_true()
    if left.len():
        zoned = _by_forms(text.gather(left).str.strip_chars(), _OFFSET_FORMS)
        value = value.scatter(left, _in_years(zoned.dt.replace_time_zone(None)))
        column.refuse(value.is_null() & local.is_null() & text.is_not_null(), "not_an_instant")
    return value


def _own_words(text: pl.Series, field: Field) -> pl.Series:
    """Words of the trade as our own; most files have ours already."""
    synonyms = SYNONYMS.get(field.name)
    if synonyms is None or text.drop_nulls().is_in(list(field.allowed)).all():
        return text
    return text.replace(dict(synonyms))


def _without_errors(column: _Column, text: pl.Series) -> pl.Series:
    """Text without what a spreadsheet writes where it could not compute: no name, no id and no note is that."""
    if not text.str.contains("^(#|Err:)").any():
        return text
    is_error = text.is_in(list(SHEET_ERRORS)).fill_null(value=False)
    column.refuse(is_error, "sheet_error")
    return pl.select(pl.when(~is_error).then(text)).to_series()


def _words(column: _Column, field: Field) -> pl.Series:
    text = _without_errors(column, column.text.str.strip_chars())
    if field.allowed:
        text = _own_words(text.str.to_lowercase(), field)
    return text.replace({"": None}) if (text == "").any() else text


def _value(column: _Column, field: Field, time_zone: str) -> pl.Series:
    if field.kind == "instant":
        return _instant(column, time_zone)
    if field.kind == "text":
        return _words(column, field)
    readers = {"number": _number, "integer": _integer, "truth": _truth, "day": _day}
    return readers[field.kind](column)


def typed(kind: FileKind, cells: pl.DataFrame, time_zone: str) -> tuple[pl.DataFrame, pl.DataFrame]:
    """All columns of the kind as values, and the cells that could not be read.

    Parameters
    ----------
    kind : FileKind
    cells : polars.DataFrame, n rows
        Text; columns that the kind does not have are left out, columns that are not there become null.
    time_zone : str
        IANA name of the zone of instants without an offset.

    Returns
    -------
    values : polars.DataFrame, n rows
        Columns and types of the kind; null where there was nothing or it could not be read.
    faults : polars.DataFrame
        ``row`` (position), ``column``, ``value``, ``rule``.
    """
    values: list[pl.Series] = []
    faults: list[pl.DataFrame] = []
    for part in kind.columns:
        if part.name not in cells.columns:
            values.append(pl.repeat(None, cells.height, dtype=POLARS_TYPE[part.field.kind], eager=True).alias(part.name))
            continue
        column = _Column(part.name, cells[part.name])
        values.append(_value(column, part.field, time_zone).alias(part.name))
        faults += column.faults
    return pl.DataFrame(values), pl.concat([pl.DataFrame(schema=CELL_FAULTS), *faults])
