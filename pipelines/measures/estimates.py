"""What is estimated of a squad at fixed moments, computed once for the same inputs: yesterday's estimates stand."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from functools import partial
from typing import TYPE_CHECKING, Any

import polars as pl

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping


def inputs_digest(what: str, rows: pl.DataFrame, beside: object) -> str:
    """Name of an estimate by all that it is made from.

    Parameters
    ----------
    what : str
        Name of the estimate.
    rows : polars.DataFrame
        All rows that it reads, in order.
    beside : object
        Whatever else it reads; its text says all of it.
    """
    told = hashlib.blake2b(f"{what}|{beside!r}|{rows.schema!r}|".encode(), digest_size=16)
    told.update(rows.hash_rows().to_numpy().tobytes())
    return told.hexdigest()


def kept_days(as_of: dt.date) -> list[dt.date]:
    """Days of which what was known when they began is kept, by what passes day by day: the newest first.

    Parameters
    ----------
    as_of : datetime.date
        The last day.

    Returns
    -------
    list of datetime.date
        The Mondays of this week and of the one before, the first of this month and of the one before: most nights pass a few days
        again, and a late file of the last weeks is no reason to pass all of them.

    Notes
    -----
    Source: own rule. Checked: tests/unit/test_estimates.py
    """
    monday, first = as_of - dt.timedelta(days=as_of.weekday()), as_of.replace(day=1)
    earlier = (first - dt.timedelta(days=1)).replace(day=1)
    return sorted({monday, monday - dt.timedelta(days=7), first, earlier}, reverse=True)


class Estimates:
    """Results of pure functions by digest of all that they were given.

    Parameters
    ----------
    known : mapping of str to str, optional
        Results of before, as JSON, by digest of their inputs.

    Attributes
    ----------
    asked : dict of str to str
        Those that were asked for, known before or not.
    """

    def __init__(self, known: Mapping[str, str] | None = None) -> None:
        self._known = known or {}
        self.asked: dict[str, str] = {}
        self._kept: set[str] = set()  # of those asked for: what is known at a moment, which nothing later rests on

    def once(self, what: str, rows: pl.DataFrame, beside: object, make: Callable[[], list[Any]]) -> list[Any]:
        """What ``make`` returns (lists, texts and numbers), or has returned of the same rows and of whatever else it reads.

        Parameters
        ----------
        what, rows, beside
            See :func:`inputs_digest`.
        make : callable

        Notes
        -----
        Numbers come back to the last digit: JSON holds the shortest text that does.
        Source: own rule. Checked: tests/unit/test_estimates.py
        """
        key = inputs_digest(what, rows, beside)
        text = self.asked.get(key) or self._known.get(key) or json.dumps(make())
        self.asked[key] = text
        found: list[Any] = json.loads(text)
        return found

    def recalled(self, key: str) -> Any:
        """What was kept under a digest; None where nothing was. The estimates that it rests on are asked for with it."""
        text = self.asked.get(key) or self._known.get(key)
        if text is None:
            return None
        told = json.loads(text)
        self.asked[key] = text
        self.asked |= {one: self._known[one] for one in told["rests_on"] if one in self._known and one not in self.asked}
        self._kept.add(key)
        return told["found"]

    def newest(self, keys: Mapping[dt.date, str], holds: Callable[[Any], bool] | None = None) -> tuple[dt.date, Any] | None:
        """The first of some moments of which it is known what was known then, and that; None: of none.

        ``keys``: moments, the newest first, to the digest of what they rest on; what is known of any of them stays known.
        ``holds``: whether what was known may be gone on from.
        """
        found: tuple[dt.date, Any] | None = None
        for moment, key in keys.items():
            known = None if found else self.recalled(key)
            if known is not None and (holds is None or holds(known)):
                found = moment, known
            self.leave(key)
        return found

    def changes(self) -> tuple[set[str], dict[str, str]]:
        """Digests of those that nobody has asked for, and those that were not known before, or not like this."""
        return set(self._known) - set(self.asked), {key: text for key, text in self.asked.items() if self._known.get(key) != text}

    def leave(self, key: str) -> None:
        """Leave what was kept under a digest as it is, where anything was; nothing of it is read tonight."""
        if key in self._known:
            self.asked.setdefault(key, self._known[key])
            self._kept.add(key)

    def keep(self, key: str, found: object, since: int) -> None:
        """Keep what was found (as JSON can hold it) under the digest of all that it was made from.

        ``since``: how many estimates were asked for before it was begun; what was asked for after them is kept with it, for the
        night that must make it anew.
        """
        rests_on = [one for one in list(self.asked)[since:] if one not in self._kept]
        self.asked[key] = json.dumps({"found": found, "rests_on": rests_on}, default=_text)
        self._kept.add(key)


def _text(one: object) -> str:
    """A day as JSON can hold it."""
    if not isinstance(one, dt.date):
        raise TypeError(type(one).__name__)
    return one.isoformat()


def with_days(told: dict[str, Any], *names: str) -> dict[str, Any]:
    """What JSON held with its days, which it holds as texts; no day stays none."""
    return told | {name: dt.date.fromisoformat(told[name]) for name in names if told.get(name) is not None}


def by_quarter(
    estimates: Estimates, what: str, rows: pl.DataFrame, starts: list[dt.date], make: Callable[[pl.DataFrame, dt.date], list[Any]]
) -> list[list[Any]]:
    """What is estimated at the first of each quarter from the rows before it: all of it is recalled together while those stand.

    Parameters
    ----------
    estimates : Estimates
    what : str
        Name of the estimates.
    rows : polars.DataFrame
        With ``on_date``, in order of it or with the rows of every quarter in the same order whatever comes after them.
    starts : list of datetime.date
        In order; which they are rests on the rows.
    make : callable
        Rows and the start of a quarter to what is estimated then, from rows before it.

    Notes
    -----
    What was known a quarter ago is kept beside: when a quarter begins, or a late file of the last one comes, only the newest is
    made.

    Source: own rule. Checked: tests/unit/test_estimates.py
    """
    return _recalled_or_made(
        estimates,
        starts,
        lambda some: inputs_digest(what, rows.filter(pl.col("on_date") < some[-1]), some),
        partial(make, rows),
    )


MONTHS_MADE = 2
"""So many newest months are told again each night: a late file of the month before is no reason to tell all of them again."""


def by_month(
    estimates: Estimates, what: str, rows: pl.DataFrame, months: list[dt.date], make: Callable[[pl.DataFrame, dt.date], list[Any]]
) -> list[list[Any]]:
    """What is estimated of each month from its rows and all before it; of months before the last but one it is recalled together.

    Parameters
    ----------
    estimates : Estimates
    what : str
        Name of the estimates.
    rows : polars.DataFrame
        With ``month_on``; those of every month in the same order whatever comes after them.
    months : list of datetime.date
        First days of months, in order; which they are rests on the rows.
    make : callable
        Rows and a month to what is estimated then, from rows of no later month.

    Notes
    -----
    Source: own rule. Checked: tests/unit/test_estimates.py
    """
    made = partial(make, rows)
    closed = _recalled_or_made(
        estimates,
        months[:-MONTHS_MADE],
        lambda some: inputs_digest(what, rows.filter(pl.col("month_on") <= some[-1]), some),
        made,
    )
    return [*closed, *map(made, months[-MONTHS_MADE:])]


def _recalled_or_made(
    estimates: Estimates, moments: list[dt.date], digest: Callable[[list[dt.date]], str], make: Callable[[dt.date], list[Any]]
) -> list[list[Any]]:
    """What is estimated at each of some moments: recalled together while all that it rests on stands.

    ``digest``: of what estimates at some moments rest on. What was known one moment ago is kept beside: when a moment is new, or
    what rows tell of the last one changes, only the newest is made.
    """
    if not moments:
        return []
    since, key = len(estimates.asked), digest(moments)
    told = estimates.recalled(key)
    if told is not None:
        estimates.leave(told["earlier"])
        return list(told["found"])
    earlier, closed = "", list[list[Any]]()
    if len(moments) > 1:
        earlier = digest(moments[:-1])
        known = estimates.recalled(earlier)
        closed = [make(one) for one in moments[:-1]] if known is None else known["found"]
        estimates.keep(earlier, {"earlier": "", "found": closed}, since)
    found = [*closed, make(moments[-1])]
    estimates.keep(key, {"earlier": earlier, "found": found}, since)
    return found
