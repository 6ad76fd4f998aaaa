"""Rows of a chart as they stand on a page: a list a column, shorter where a column has an order that is shorter to say.

``{"days": [20526, 7, null, 3]}``: each day is its distance from the one before it, the first from 1970-01-01; null where there
is none. ``{"steps": [1044, -3], "by": 10}``: so are numbers, in tenths (hundredths, thousandths). ``{"runs": [["mine", 14]]}``:
equal values in a row, and how many. Else a plain list. The page's script (``static/page.js``) reads them back; nothing is lost.
"""

from __future__ import annotations

import json
import math
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from itertools import groupby
from operator import sub
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

_EPOCH = date(1970, 1, 1).toordinal()
_FEW = 4
"""Columns of fewer values stand as they are."""
_SCALES = (1, 10, 100, 1000)
_JSON = json.JSONEncoder(separators=(",", ":"), allow_nan=False, ensure_ascii=False)


def script_safe(value: Any) -> str:
    """JSON that can stand inside a script element, whatever text it holds."""
    text = _JSON.encode(value)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026").replace("\u2028", "\\u2028")


@dataclass(frozen=True)
class ChartRows:
    """One data set of a chart.

    Attributes
    ----------
    columns : mapping of str to list
        Values by column, all of one length; numbers finite.
    schema : mapping of str to DataType
    """

    columns: Mapping[str, list[Any]]
    schema: Mapping[str, Any]

    @cached_property
    def text(self) -> str:
        """The rows as they stand on a page.

        Raises
        ------
        ValueError
            When a number is not finite: measures say null.
        """
        return script_safe({name: _stands(values, self.schema[name]) for name, values in self.columns.items()})

    @cached_property
    def frame(self) -> pl.DataFrame:
        """The rows as a frame."""
        return pl.DataFrame(dict(self.columns), schema=dict(self.schema))

    @property
    def height(self) -> int:
        """How many rows there are."""
        return len(next(iter(self.columns.values()), []))

    def rows(self) -> list[dict[str, Any]]:
        """The rows one by one."""
        return [dict(zip(self.columns, values, strict=True)) for values in zip(*self.columns.values(), strict=True)]


def chart_rows(rows: pl.DataFrame) -> ChartRows:
    """The rows of a frame."""
    return ChartRows(rows.to_dict(as_series=False), rows.schema)


def listed_rows(rows: Sequence[Mapping[str, Any]], schema: Mapping[str, Any]) -> ChartRows:
    """Rows that were made one by one."""
    return ChartRows({name: [row[name] for row in rows] for name in schema}, schema)


def tuple_rows(rows: Sequence[tuple[Any, ...]], schema: Mapping[str, Any]) -> ChartRows:
    """The same of tuples, whose values stand in the order of the columns."""
    columns = zip(*rows, strict=True) if rows else ([] for _ in schema)
    return ChartRows({name: list(values) for name, values in zip(schema, columns, strict=True)}, schema)


def rounded(value: float, digits: int) -> float:
    """A number rounded as a column of a frame is: the half to the even side, as the product with the power of ten tells."""
    by = 10.0**digits
    return math.copysign(round(value * by) / by, value)


def _stands(values: list[Any], kind: Any) -> Any:
    if kind == pl.Date:
        return {"days": _day_distances(values)}
    if len(values) < _FEW:
        return values
    if kind in {pl.String, pl.Boolean}:
        runs = [[value, len(list(same))] for value, same in groupby(values)]
        return {"runs": runs} if 2 * len(runs) <= len(values) else values
    return _numbers(values) if kind.is_numeric() else values


def _day_distances(days: list[date | None]) -> list[int | None]:
    known = [day.toordinal() for day in days if day is not None]
    steps = map(sub, known, [_EPOCH, *known])
    return list(steps) if len(known) == len(days) else [None if day is None else next(steps) for day in days]


def _numbers(values: list[Any]) -> Any:
    """Distances in the coarsest of four scales in which every value is a whole number; as they are where there is none."""
    told = [value for value in values if value is not None] if None in values else values
    known = np.array(told, dtype=float)
    if not np.isfinite(known).all():
        raise ValueError("A number of a chart is not finite: null is written where there is none.")
    for by in _SCALES:
        if any(round(value * by) / by != value for value in told[:_FEW]):
            continue
        whole = np.rint(known * by)
        if (whole / by == known).all():
            whole[1:] -= whole[:-1].copy()
            steps = whole.astype(np.int64).tolist()
            found = iter(steps)
            return {"steps": steps if told is values else [None if value is None else next(found) for value in values], "by": by}
    return values
