"""How load moved: one session against the largest of a month, one week against the week before, acute beside chronic.

None of these is a limit, and none is a risk. Golf has no study that would make it one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pipelines.measures.load.grid import Floats, Readings, readings

JUMP_BORDERS: tuple[float, ...] = (0.10, 0.30, 1.00)
JUMP_CLASSES: tuple[str, ...] = ("none", "small", "moderate", "large")


def session_jump(session: float | None, largest_before: float | None) -> float | None:
    """How far one session exceeds the largest of the player's last 30 days, as a fraction (0.10 = 10 % above).

    Parameters
    ----------
    session : float or None
        Load of the session [any unit]. None: unknown.
    largest_before : float or None
        Largest session of the 30 days before it [same unit]. None: unknown.

    Returns
    -------
    float or None
        None when either is unknown, or the largest is 0: a jump from nothing has no size.

    Notes
    -----
    ``S / max(S over the 30 days before) - 1``.

    Source: [Frandsen2025], adult runners; golf has no such study.
    Checked: tests/published/test_frandsen_2025.py
    """
    if session is None or largest_before is None or largest_before <= 0:
        return None
    return session / largest_before - 1.0


def jump_class(jump: float | None) -> str | None:
    """Class of a session jump: none (to 10 %), small (to 30 %), moderate (to 100 %), large (above); upper borders belong.

    Source: [Frandsen2025]
    Checked: tests/published/test_frandsen_2025.py
    """
    if jump is None:
        return None
    above = int(np.searchsorted(np.array(JUMP_BORDERS) + 1e-9, jump, side="left"))
    return JUMP_CLASSES[above]


def session_jumps(largest_session: Readings, largest_before: Readings) -> Readings:
    """:func:`session_jump` of every player and day at once; unknown where it is not defined."""
    known = largest_session.known & largest_before.known & (largest_before.value > 0)
    return readings(largest_session.value / np.where(known, largest_before.value, 1.0) - 1.0, known)


def week_change(this_week: float | None, last_week: float | None, floor: float) -> tuple[float | None, float | None]:
    """Change of a week's load against the week before: the difference [unit of load] and the fraction.

    Parameters
    ----------
    this_week, last_week : float or None
        None: too few days known.
    floor : float
        Load of last week below which no fraction is given: a per cent of next to nothing says nothing.

    Returns
    -------
    difference, fraction : float or None
    """
    if this_week is None or last_week is None:
        return None, None
    difference = this_week - last_week
    return difference, difference / last_week if last_week >= floor and last_week > 0 else None


def week_changes(this_week: Readings, last_week: Readings, floor: float) -> tuple[Readings, Readings]:
    """:func:`week_change` of every player and day at once: difference and fraction."""
    known = this_week.known & last_week.known
    difference = this_week.value - last_week.value
    based = known & (last_week.value >= floor) & (last_week.value > 0)
    return readings(difference, known), readings(difference / np.where(based, last_week.value, 1.0), based)


@dataclass(frozen=True)
class Monotony:
    """Evenness of a week.

    Attributes
    ----------
    weekly_load : float
        Sum of the loads given.
    monotony : float or None
        Mean over standard deviation.
    strain : float or None
        Weekly load times monotony.
    reason : str
        ``""``, or why there is no number: ``no_spread``, ``too_few_training_days``, ``days_missing``.
    """

    weekly_load: float
    monotony: float | None
    strain: float | None
    reason: str


def monotony(loads: Floats, *, ddof: int = 1) -> Monotony:
    """Monotony and strain of a week of loads, with their definition as parameters.

    Parameters
    ----------
    loads : (n,) array [AU]
        The seven days with rest days as 0 (the definition used here), or the sessions of a week (the definition that
        reproduces the printed example). NaN: a missing day.
    ddof : int
        1: sample standard deviation (used here); 0: population.

    Returns
    -------
    Monotony
        Without numbers when a day is missing, fewer than two loads are above 0, or all are equal: it grows without bound there
        and is never capped silently.

    Notes
    -----
    ``monotony = mean / SD; strain = sum * monotony``. The printed 1.26 of the 2001 paper comes from nine *sessions* with the
    population SD; the same week by days gives 1.12 (sample) or 1.21 (population). Monotony is blind to the level: a flat easy
    week scores high, so nothing here is flagged by it.

    Source: [Foster1998], [Foster2001] Table 5
    Checked: tests/published/test_foster_2001.py
    """
    if np.isnan(loads).any():
        return Monotony(float(np.nansum(loads)), None, None, "days_missing")
    total = float(loads.sum())
    if np.count_nonzero(loads > 0) < 2:
        return Monotony(total, None, None, "too_few_training_days")
    spread = float(loads.std(ddof=ddof))
    if spread <= 1e-9 * max(total, 1.0):
        return Monotony(total, None, None, "no_spread")
    even = float(loads.mean()) / spread
    return Monotony(total, even, total * even, "")


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


def coupled_ratio(daily: Floats) -> float:
    """Mean of the last 7 days over the mean of the last 28, the 7 included: a description, never a limit, shape (28+,) in.

    Notes
    -----
    ``mean(d-6..d) / mean(d-27..d)``; with uncoupled ratio U it is ``4U / (U + 3)``, at most 4, and independent weeks correlate
    .50 with it by construction.

    Source: [Windt2019], [Lolli2019]
    Checked: tests/published/test_ratios.py
    """
    return float(daily[-7:].mean() / daily[-28:].mean())


def uncoupled_ratio(daily: Floats) -> float:
    """Mean of the last 7 days over the mean of the 21 before: a description, never a limit, shape (28+,) in.

    Source: [Windt2019]
    Checked: tests/published/test_ratios.py
    """
    return float(daily[-7:].mean() / daily[-28:-7].mean())


def coupled_from_uncoupled(uncoupled: float) -> float:
    """The coupled 7:28 ratio that belongs to an uncoupled one: ``4U / (U + 3)``.

    Checked: tests/published/test_ratios.py
    """
    return 4.0 * uncoupled / (uncoupled + 3.0)


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
