"""How load moved: one session against the largest of a month, one week against the week before, acute beside chronic.

None of these is a limit, and none is a risk. Golf has no study that would make it one.
"""

from __future__ import annotations

import numpy as np

from pipelines.measures.load.grid import Readings, readings

JUMP_BORDERS: tuple[float, ...] = (0.10, 0.30, 1.00)
JUMP_CLASSES: tuple[str, ...] = ("none", "small", "moderate", "large")


def session_jumps(largest_session: Readings, largest_before: Readings) -> Readings:
    """:func:`session_jump` of every player and day at once; unknown where it is not defined."""
    known = largest_session.known & largest_before.known & (largest_before.value > 0)
    return readings(largest_session.value / np.where(known, largest_before.value, 1.0) - 1.0, known)


def week_changes(this_week: Readings, last_week: Readings, floor: float) -> tuple[Readings, Readings]:
    """:func:`week_change` of every player and day at once: difference and fraction."""
    known = this_week.known & last_week.known
    difference = this_week.value - last_week.value
    based = known & (last_week.value >= floor) & (last_week.value > 0)
    return readings(difference, known), readings(difference / np.where(based, last_week.value, 1.0), based)


def rolling_monotony(daily: Readings, days: int = 7) -> Readings:
    """:func:`monotony` over the last ``days`` (sample SD, rest day = 0) of every player and day; unknown where not defined."""
    views = np.lib.stride_tricks.sliding_window_view
    value, known = np.zeros_like(daily.value), np.zeros_like(daily.known)
    if daily.value.shape[1] < days:
        return Readings(value, known)
    windows = views(daily.value, days, axis=1)
    mean, spread = windows.mean(axis=2), windows.std(axis=2, ddof=1)
    defined = (
        views(daily.known, days, axis=1).all(axis=2) & ((windows > 0).sum(axis=2) >= 2) & (spread > 1e-9 * np.maximum(mean, 1.0))
    )
    value[:, days - 1 :] = np.where(defined, mean / np.where(defined, spread, 1.0), 0.0)
    known[:, days - 1 :] = defined
    return Readings(value, known)


def described_ratio(week: Readings, earlier_weeks: Readings, floor: float) -> Readings:
    """Mean day of this week over the mean day of the three weeks before; unknown where either is, or the base is below the floor.

    Parameters
    ----------
    week, earlier_weeks : Readings, shape (players, days)
        Daily means [unit of load per day].
    floor : float
        Least base [unit of load per day] that can carry a ratio.

    Notes
    -----
    Shown as a description beside the two lines that it is made of. A cluster-randomised trial of planning by such a ratio found
    no effect, and in the largest cohort it was related to injury the other way round.

    Source: [DalenLorentsen2021], [Frandsen2025], [Impellizzeri2020]
    """
    known = week.known & earlier_weeks.known & (earlier_weeks.value >= floor) & (earlier_weeks.value > 0)
    return readings(week.value / np.where(known, earlier_weeks.value, 1.0), known)
