"""What is told of answers, day by day and item by item, from a Monday on of which it is known what was known before."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from pipelines.measures.body.baseline import REACH_DAYS, Hold
from pipelines.measures.body.items import ITEMS, REGION_ITEMS, STATE_ITEMS, body_items
from pipelines.measures.body.map import body_days, body_weeks
from pipelines.measures.flags.body_rules import body_holds_at, body_rises
from pipelines.measures.load.windows import days_known

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from pipelines.measures.body.items import BodyItem
    from pipelines.measures.load.grid import Counts, DayGrid, Floats, Readings, Truths

SHOWN_DAYS = 84
"""Days are told of the last twelve weeks, weeks and rises of all."""

_HELD = ("mean", "spread", "n")


@dataclass(frozen=True)
class Before:
    """What is known of answers when a day begins; items without any are left out.

    Attributes
    ----------
    held : dict of str to list
        By item, of each player whose normal is held: player, the day since when, mean, spread and answers of it.
    open : dict of str to list of str
        By item, the players of whom a rise was open or held at the last look.
    """

    held: dict[str, list[list[Any]]] = field(default_factory=dict)
    open: dict[str, list[str]] = field(default_factory=dict)

    def holds(self, grid: DayGrid) -> dict[str, Hold]:
        """Normals that are held, on a grid."""
        at, found = {player_id: row for row, player_id in enumerate(grid.players)}, {}
        for item, told in self.held.items():
            hold = Hold.nobody(len(at))
            for player_id, since, *own in told:
                row = at[player_id]
                hold.since[row] = (dt.date.fromisoformat(since) - grid.first_on).days
                for name, value in zip(_HELD, own, strict=True):
                    getattr(hold, name)[row] = value
            found[item] = hold
        return found

    def was_open(self, item: str, grid: DayGrid) -> Truths:
        """Players of a grid of whom a rise was open."""
        return np.isin(grid.players, self.open.get(item, []))


@dataclass
class AnswerHistory:
    """What is told from a day on.

    Attributes
    ----------
    days, weeks, rises : list of polars.DataFrame
        Rows of ``body_day``, ``body_week`` and candidates, item by item.
    sleep : Readings or None
        Hours slept (negative) on the days of the grid.
    before : dict of datetime.date to Before
        What is known when each of the days that were asked for begins.
    """

    days: list[pl.DataFrame] = field(default_factory=list)
    weeks: list[pl.DataFrame] = field(default_factory=list)
    rises: list[pl.DataFrame] = field(default_factory=list)
    sleep: Readings | None = None
    before: dict[dt.date, Before] = field(default_factory=dict)


def first_read(begin_on: dt.date) -> dt.date:
    """The first day of answers on which what is told from a day on rests, beside what is known before."""
    return begin_on - dt.timedelta(days=REACH_DAYS)


def answer_history(
    checkins: pl.DataFrame, grid: DayGrid, begin_on: dt.date, before: Before, asked: Sequence[dt.date] = ()
) -> AnswerHistory:
    """What is told of answers from a day on.

    Parameters
    ----------
    checkins : polars.DataFrame
        player_id, on_date and the items, from the first day of the grid on.
    grid : DayGrid
        All who have ever answered, from :func:`first_read` or the first answer on.
    begin_on : datetime.date
        A Monday, or the first day of the grid.
    before : Before
        What is known when that day begins.
    asked : sequence of datetime.date
        Later days, of which it is asked what is known when they begin.

    Returns
    -------
    AnswerHistory

    Notes
    -----
    Whatever day it begins with, the same is told of the days after it.

    Source: own rule
    Checked: tests/property/test_standing_days.py
    """
    found, begin = AnswerHistory(before={on: Before() for on in asked}), (begin_on - grid.first_on).days
    n_items, n_players = _answered_items(checkins, grid)
    told_of = grid.since(begin)
    names = tuple(name for name in ITEMS if name in {*_answered_names(checkins), *before.held, *before.open})
    for item in body_items(checkins, grid, names, before.holds(grid), begin):
        n_asked, was_open, since = n_items[bool(item.region)][:, begin:], before.was_open(item.name, grid), item.since(begin)
        found.days.append(body_days(item, grid, max(grid.n_days - SHOWN_DAYS, begin)))
        found.weeks.append(body_weeks(since, told_of))
        found.rises.append(body_rises(since, told_of, n_asked, n_players[begin:], was_open))
        _note_before(found.before, since, told_of, body_holds_at(since, n_asked, was_open) if asked else None)
        found.sleep = item.answers if item.name == "sleep_h" else found.sleep
    return found


def _note_before(asked: Mapping[dt.date, Before], item: BodyItem, grid: DayGrid, was_open: Truths | None) -> None:
    """Put what is known of an item when days begin to what is known of others."""
    for on, known in asked.items():
        column = (on - grid.first_on).days
        hold = item.own.before(column)
        if hold.is_held.any():
            known.held[item.name] = [_told(hold, row, grid, on) for row in np.flatnonzero(hold.is_held).tolist()]
        if was_open is not None and was_open[:, column].any():
            known.open[item.name] = [grid.players[row] for row in np.flatnonzero(was_open[:, column]).tolist()]


def _told(hold: Hold, row: int, grid: DayGrid, on: dt.date) -> list[Any]:
    """As :class:`Before` holds it; days of the hold are counted from ``on``."""
    since = on + dt.timedelta(days=int(hold.since[row]))
    return [grid.players[row], since.isoformat(), float(hold.mean[row]), float(hold.spread[row]), int(hold.n[row])]


def _answered_names(checkins: pl.DataFrame) -> list[str]:
    """Items that anybody answered: of others nothing is found. Sleep stands among them, for a column is made of it."""
    return [name for name in ITEMS if name == "sleep_h" or checkins[name].null_count() < checkins.height]


def _answered_items(checkins: pl.DataFrame, grid: DayGrid) -> tuple[dict[bool, Floats], Counts]:
    """Items answered each night, of states and of regions, and players with an answer in the last 7 days."""
    counted = checkins.select(
        "player_id",
        "on_date",
        states=pl.sum_horizontal(pl.col(name).is_not_null() for name in STATE_ITEMS),
        regions=pl.sum_horizontal(pl.col(name).is_not_null() for name in REGION_ITEMS),
    )
    spread = grid.spread(counted, ("states", "regions"))
    n_players: Counts = np.count_nonzero(days_known(spread["states"].known, 7) > 0, axis=0)
    return {False: np.maximum(spread["states"].value, 1), True: np.maximum(spread["regions"].value, 1)}, n_players
