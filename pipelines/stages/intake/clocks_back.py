"""Local times of the hour that the clocks showed twice: they are taken as the earlier, and somebody is told."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import polars as pl

from pipelines.stages.intake.plausible import WARNINGS

if TYPE_CHECKING:
    from schemas.files import FileKind

_DAY, _STEP = timedelta(days=1), timedelta(minutes=15)


@lru_cache(maxsize=4096)
def _hour_again(zone: ZoneInfo, day: date) -> tuple[datetime, datetime] | None:
    """The instants of a UTC day, from and until, whose local time comes once more; None where no clock is put back."""
    at = datetime.combine(day, datetime.min.time(), UTC)
    end = at + _DAY
    if (back := _offset(at, zone) - _offset(end, zone)) <= timedelta():
        return None
    while _offset(at, zone) != _offset(end, zone):
        at += _STEP
    return (at - back).replace(tzinfo=None), at.replace(tzinfo=None)


def _offset(at: datetime, zone: ZoneInfo) -> timedelta:
    return at.astimezone(zone).utcoffset() or timedelta()


def shown_twice(kind: FileKind, cells: pl.DataFrame, values: pl.DataFrame, file: pl.Series, time_zone: str) -> pl.DataFrame:
    """Times without an offset in such an hour, as warnings: the first of each file and column.

    Parameters
    ----------
    kind : FileKind
    cells : polars.DataFrame, n rows
        Text, as it stood in the file or as its mapping wrote it.
    values : polars.DataFrame, n rows
        Instants in UTC.
    file : polars.Series, n
    time_zone : str

    Returns
    -------
    polars.DataFrame
        ``row``, ``column``, ``value``, ``rule``.
    """
    found = [pl.DataFrame(schema=WARNINGS)]
    for name in (part.name for part in kind.columns if part.field.kind == "instant" and part.name in cells.columns):
        days = values[name].dt.date().unique().drop_nulls()
        zone = ZoneInfo(time_zone)
        spans = [span for day in days if (span := _hour_again(zone, day))]
        if not spans:
            continue
        within = pl.any_horizontal((pl.col("at") >= begin) & (pl.col("at") < end) for begin, end in spans)
        told = pl.DataFrame({"at": values[name], "value": cells[name], "file": file}).with_row_index("row")
        local = told.filter(within).filter(~pl.col("value").str.contains(r"([zZ]|[+-]\d\d:?\d\d)\s*$"))
        found.append(
            local.unique("file", keep="first", maintain_order=True).select(
                pl.col("row").cast(pl.Int64), pl.lit(name).alias("column"), "value", pl.lit("clocks_put_back").alias("rule")
            )
        )
    return pl.concat(found)
