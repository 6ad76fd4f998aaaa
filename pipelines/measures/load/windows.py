"""Sums, means and maxima over the days before, which scale by the days present and fall silent below a stated coverage."""

from __future__ import annotations

import numpy as np

from pipelines.measures.load.grid import Counts, Floats, Readings, Truths, readings

WEEK_DAYS, WEEK_AT_LEAST = 7, 5
MONTH_DAYS, MONTH_AT_LEAST = 28, 20
"""Coverage that a week and four weeks need: 5 of 7 and 20 of 28 days known. Own choice."""

EWMA_SILENT_DAYS, EWMA_PROVISIONAL_DAYS = 14, 28
"""No 28-day mean before 14 known days; provisional until 28. Own choice, from the error of the start (see the docstring)."""


def _window_total(cells: Floats, days: int) -> Floats:
    """Sum over each day and the ``days - 1`` before it (fewer at the beginning)."""
    total = np.cumsum(cells, axis=1)
    shifted = np.zeros_like(total)
    shifted[:, days:] = total[:, :-days]
    return total - shifted


def days_known(known: Truths, days: int) -> Floats:
    """Known days among the last ``days``, today included, shape (players, days).

    Days before the grid begins count as unknown.
    """
    return np.rint(_window_total(known.astype(np.float64), days))


def coverage(known: Truths, days: int) -> Floats:
    """Share of known days among the last ``days``, today included, 0 to 1, shape (players, days)."""
    return days_known(known, days) / days


def trailing_sum(daily: Readings, days: int, at_least: int) -> Readings:
    """Sum over the last ``days``, today included, scaled by the days present [unit of the readings].

    Parameters
    ----------
    daily : Readings, shape (players, days)
        A rest day is a known 0, a missing day is unknown.
    days, at_least : int
        Length of the window, and how many of its days must be known.

    Returns
    -------
    Readings
        Unknown where fewer than ``at_least`` days are known: reason ``too_few_days``.

    Notes
    -----
    ``S = sum(x over known days) * days / n_known``. Filling unknown days with 0 instead makes the number fall by the share that
    is missing: in a published simulation ratios below .5 became 40 % and above 2.0 97 % more frequent.

    Source: [Benson2021]
    Checked: tests/published/test_missing_as_zero.py
    """
    present = days_known(daily.known, days)
    enough = present >= at_least
    total = _window_total(daily.value, days) * days / np.maximum(present, 1)
    return readings(total, enough)


def trailing_mean(daily: Readings, days: int, at_least: int) -> Readings:
    """Mean of the known days among the last ``days``, today included; unknown below ``at_least`` known days."""
    total = trailing_sum(daily, days, at_least)
    return Readings(total.value / days, total.known)


def earlier(daily: Readings, days: int) -> Readings:
    """The readings as they stood ``days`` earlier; unknown where the grid had not begun."""
    value, known = np.zeros_like(daily.value), np.zeros_like(daily.known)
    if days < daily.value.shape[1]:
        value[:, days:], known[:, days:] = daily.value[:, :-days], daily.known[:, :-days]
    return Readings(value, known)


def ewma(daily: Readings, span_days: int, at_least: int = 1) -> Readings:
    """Exponentially weighted mean that renormalises over the days present [unit of the readings].

    Parameters
    ----------
    daily : Readings, shape (players, days)
    span_days : int
        N of the weight ``lambda = 2 / (N + 1)``.
    at_least : int
        Known days so far below which there is no number.

    Returns
    -------
    Readings
        Unknown before the first known day and below ``at_least``.

    Notes
    -----
    ``E_t = sum_k lambda (1 - lambda)^k x_(t-k) / sum_k lambda (1 - lambda)^k`` over known days: no seed, hence no start-up bias,
    and a missing day neither counts as 0 nor repeats the day before. With a seed the first day keeps 61 % of the weight
    after 7 days, 37 % after 14 and 14 % after 28 (span 28).

    Source: [Williams2017] for lambda; the renormalisation is derived here.
    Checked: tests/published/test_williams_2017.py, tests/property/test_load_windows.py
    """
    weight = 2.0 / (span_days + 1.0)
    top, bottom = _fading_sum(daily.value, weight), _fading_sum(daily.known.astype(np.float64), weight)
    enough = (bottom > 1e-12) & (np.cumsum(daily.known, axis=1) >= at_least)
    return readings(top / np.where(bottom > 1e-12, bottom, 1.0), enough)


def _fading_sum(cells: Floats, weight: float) -> Floats:
    """``weight * sum_k (1 - weight)^k x_(t-k)`` for each row, day by day; nothing before the first."""
    found, sum_before = np.empty_like(cells), np.zeros(cells.shape[0])
    for day in range(cells.shape[1]):
        sum_before = found[:, day] = weight * cells[:, day] + (1.0 - weight) * sum_before
    return found


def largest_before(daily: Readings, days: int) -> Readings:
    """Largest known value of the ``days`` before today, today excluded; unknown when none of them is known."""
    floor = np.where(daily.known, daily.value, -np.inf)
    padded = np.concatenate([np.full((floor.shape[0], days), -np.inf), floor[:, :-1]], axis=1)
    largest = np.lib.stride_tricks.sliding_window_view(padded, days, axis=1).max(axis=2)
    known = np.isfinite(largest)
    return readings(np.where(known, largest, 0.0), known)


def days_since(event: Truths, known: Truths) -> Readings:
    """Days since the last event (0 today); unknown when a day since then is unknown, since it may have been one.

    Parameters
    ----------
    event, known : (players, days) arrays of bool
        An event counts only where the day is known.
    """
    number = np.arange(event.shape[1])
    last_event = np.maximum.accumulate(np.where(event & known, number, -1), axis=1)
    last_unknown = np.maximum.accumulate(np.where(known, -1, number), axis=1)
    since = number - last_event
    return readings(since.astype(np.float64), (last_event >= 0) & (last_unknown < last_event))


def run_length(holds: Truths) -> Floats:
    """Length of the run of days, ending today, on which the condition holds; 0 where it does not."""
    number = np.arange(holds.shape[1])
    last_break = np.maximum.accumulate(np.where(holds, -1, number), axis=1)
    return (number - last_break).astype(np.float64)


def percentile_in_own_history(daily: Readings, at_least: int, begin: int = 0) -> Readings:
    """Mid-p percentile [0-100] of each value among the player's own earlier values, today excluded.

    Parameters
    ----------
    daily : Readings, shape (players, days)
    at_least : int
        Earlier known values below which there is no percentile.
    begin : int
        The first day that is asked for; of those before it none is told.

    Notes
    -----
    ``100 (below + equal / 2) / n`` over all earlier known days of the same player. Complexity days squared by players.
    """
    value, known = daily.value, daily.known
    rank = np.zeros_like(value)
    for t in range(max(begin, 1), value.shape[1]):
        before, today = value[:, :t], value[:, t, None]
        below = np.count_nonzero((before < today) & known[:, :t], axis=1)
        equal = np.count_nonzero((before == today) & known[:, :t], axis=1)
        rank[:, t] = below + 0.5 * equal
    n_before: Counts = np.cumsum(known, axis=1) - known
    asked = np.arange(value.shape[1]) >= begin
    return readings(100.0 * rank / np.maximum(n_before, 1), known & (n_before >= at_least) & asked)
