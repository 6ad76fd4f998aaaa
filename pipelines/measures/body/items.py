"""What is asked, and each item of every player against the player's own normal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from pipelines.measures.body.baseline import Above, AnswerBaseline, HeldNormal, above_normal, held_normal, own_normal
from pipelines.measures.load.grid import Floats, Readings, Truths, readings
from schemas.regions import REGIONS

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import polars as pl

    from pipelines.measures.body.baseline import Hold
    from pipelines.measures.load.grid import DayGrid

STATE_ITEMS: tuple[str, ...] = ("fatigue", "soreness", "stress", "sleep_trouble", "sleep_h")
REGION_ITEMS: tuple[str, ...] = tuple(f"stiff_{region}" for region in REGIONS)
ITEMS: tuple[str, ...] = STATE_ITEMS + REGION_ITEMS
BETTER_WHEN_HIGHER: tuple[str, ...] = ("sleep_h",)
PERCENTILE_ANSWERS_DAYS = 60


@dataclass(frozen=True)
class BodyItem:
    """One item of every player.

    Attributes
    ----------
    name : str
        ``fatigue``, ``stiff_lower_back`` and so on.
    sign : float
        -1 where more is better (hours slept): arrays hold the answer times the sign, so that worse is always higher.
    answers : Readings
    own : HeldNormal
        Held while the last answers lie above it; with the days on which a normal was let go because they have stayed above it.
    above : Above
        Against the normal that learns on: only of that it is known how often chance lifts answers so far, so it opens flags.
    held : Above
        Against the normal that is held: it tells and keeps open.
    """

    name: str
    sign: float
    answers: Readings
    own: HeldNormal
    above: Above
    held: Above

    @property
    def normal(self) -> AnswerBaseline:
        """Own normal, held while the last answers lie above it."""
        return self.own.normal

    @property
    def lasted(self) -> Truths:
        """Days on which a normal was let go because the answers have stayed above it."""
        return self.own.lasted

    def since(self, column: int) -> BodyItem:
        """The item on the days from a column on."""
        above, held = self.above.since(column), self.held.since(column)
        return BodyItem(self.name, self.sign, self.answers.since(column), self.own.since_day(column), above, held)

    @property
    def region(self) -> str:
        """Region of a stiffness item, else empty."""
        return self.name.removeprefix("stiff_") if self.name.startswith("stiff_") else ""


def body_items(
    checkins: pl.DataFrame,
    grid: DayGrid,
    names: tuple[str, ...] = ITEMS,
    held_before: Mapping[str, Hold] | None = None,
    begin: int = 0,
) -> Iterator[BodyItem]:
    """Each item in turn, so that only one is held at a time.

    Parameters
    ----------
    checkins : polars.DataFrame
        player_id, on_date and the items, at most one row for a player and day; only players with health consent.
    grid : DayGrid
    names : tuple of str
        Items that the frame has.
    held_before : mapping of str to Hold, optional
        By item, the normals that are held when the day ``begin`` begins.
    begin : int
        Day of the grid from which on it is asked.
    """
    places = grid.places(checkins)
    for name in names:
        sign = -1.0 if name in BETTER_WHEN_HIGHER else 1.0
        raw = grid.at_places(places, checkins[name])
        answers = readings(sign * raw.value, raw.known)
        free = own_normal(answers)
        above = above_normal(answers, free)
        held = held_normal(answers, free, above, (held_before or {}).get(name), begin)
        still = still_above(answers, free, held.normal, above)
        yield BodyItem(name, sign, answers, held, above, still)


def still_above(answers: Readings, free: AnswerBaseline, held: AnswerBaseline, above: Above) -> Above:
    """The last answers against the normal that is held, where what they say against the one that learns on is known.

    Parameters
    ----------
    answers : Readings, shape (players, days)
    free, held : AnswerBaseline
        The normal that learns on, and the one that is held.
    above : Above
        Against the first.

    Notes
    -----
    Of most players the two are the same.

    Source: own rule. Checked: tests/property/test_body_baseline.py
    """
    other = (free.mean.value != held.mean.value) | (free.spread != held.spread) | (free.n != held.n)
    rows = np.flatnonzero(other.any(axis=1))
    if not rows.size:
        return above
    own = AnswerBaseline(held.mean.of(rows), held.spread[rows], held.n[rows])
    return above.with_rows(rows, above_normal(answers.of(rows), own))


def display_percentile(answers: Readings, first_column: int) -> Readings:
    """Where each answer from a column on stands among the player's own answers of the 60 days before it [0-100].

    Notes
    -----
    ``100 (below + equal/2 + 1/2) / (n + 1)``: ties count half, which suits an ordinal scale, and neither end is reached. Unknown
    with fewer than 14 earlier answers. For display; no flag rests on it.

    Checked: tests/property/test_body_baseline.py
    """
    value, known = np.zeros_like(answers.value), np.zeros_like(answers.known)
    for column in range(max(first_column, 0), answers.value.shape[1]):
        start = max(column - PERCENTILE_ANSWERS_DAYS, 0)
        before, present = answers.value[:, start:column], answers.known[:, start:column]
        today = answers.value[:, column, None]
        rank = ((before < today) & present).sum(axis=1) + 0.5 * ((before == today) & present).sum(axis=1)
        n = present.sum(axis=1)
        value[:, column] = 100.0 * (rank + 0.5) / (n + 1.0)
        known[:, column] = answers.known[:, column] & (n >= 14)
    return readings(value, known)


def week_starts(grid: DayGrid) -> tuple[np.ndarray, list[int]]:
    """Column at which each week of the grid begins, and the column of its Monday, which may lie before the grid."""
    weekday = grid.first_on.weekday()
    mondays = np.arange(-weekday, grid.n_days, 7)
    return np.maximum(mondays, 0), [int(monday) for monday in mondays]


def week_sum(cells: Floats, starts: np.ndarray) -> Floats:
    """Sums over the weeks, shape (players, weeks)."""
    summed: Floats = np.add.reduceat(cells, starts, axis=1)
    return summed
