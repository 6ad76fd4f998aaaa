"""What a night keeps of a stage that passes day by day over the whole squad: its rows of closed days, and what was known then."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import polars as pl

from pipelines.measures.estimates import kept_days
from pipelines.stages.stale import keep_estimates, known_estimates
from warehouse.connection import frame

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    import duckdb

    from schemas.tables import Table

_UNTIL = "until"


class StandingDays:
    """Days of a stage whose rows stand: those before a Monday before which nothing that is read has changed.

    Parameters
    ----------
    con : duckdb connection
    stage : str
    as_of : datetime.date
    digest : callable
        A day to the digest of all that the stage reads of the days before it.

    Attributes
    ----------
    begin_on : datetime.date or None
        The first day to be told anew; None: all are.
    known : object
        What was known when that day began, as it was kept.

    Notes
    -----
    Kept are the Mondays with which this week begins, the one before, and those of the first of this month and of the one before.
    Where the last day lies before that of the night that kept them, nothing stands: rows that were taken out since would be
    missing. Each is kept by its own name too: where nobody did anything for weeks, no more is read
    of the days before a Monday that no night has told yet than of those before the last one that was.
    """

    def __init__(self, con: duckdb.DuckDBPyConnection, stage: str, as_of: dt.date, digest: Callable[[dt.date], str]) -> None:
        self._stage, self._as_of, self._estimates = stage, as_of, known_estimates(con, stage)
        self._digests = {monday: f"{monday.isoformat()} {digest(monday)}" for monday in _mondays(as_of)}
        until = self._estimates.recalled(_UNTIL)
        goes_on = until is not None and dt.date.fromisoformat(until) <= as_of
        newest = self._estimates.newest(self._digests) if goes_on else None
        self.begin_on: dt.date | None = newest[0] if newest else None
        self.known: Any = newest[1] if newest else None

    def asked(self, first_on: dt.date) -> list[dt.date]:
        """Days of which is to be kept what is known when they begin: those after the first that is told."""
        return [monday for monday in self._digests if monday > (self.begin_on or first_on)]

    def keep(self, con: duckdb.DuckDBPyConnection, known: Mapping[dt.date, Any]) -> None:
        """Keep what is known when days begin, as JSON can hold it; call it with the rows, within a transaction."""
        for monday, told in known.items():
            self._estimates.keep(self._digests[monday], told, len(self._estimates.asked))
        self._estimates.keep(_UNTIL, self._as_of.isoformat(), len(self._estimates.asked))
        keep_estimates(con, self._stage, self._estimates)


def are_stored(con: duckdb.DuckDBPyConnection, table: Table, rows: pl.DataFrame, kinds: Sequence[str] = ()) -> bool:
    """Whether a table (of candidates: its rows of some kinds) holds these rows."""
    told = frame(con, f'select * from "{table.name}"')
    stored = told.filter(pl.col("kind").is_in(kinds)) if kinds else told
    found = rows.select(pl.col(name).cast(kind) for name, kind in told.schema.items())
    return stored.sort(table.grain).equals(found.sort(table.grain))


def _mondays(as_of: dt.date) -> list[dt.date]:
    """With which the weeks of the days begin that are kept, the newest first."""
    return sorted({day - dt.timedelta(days=day.weekday()) for day in kept_days(as_of)}, reverse=True)
