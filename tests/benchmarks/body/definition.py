"""The definitions of a load jump, written again without arrays: what the rule must agree with, day by day."""

from __future__ import annotations

Swings = dict[int, int]
"""Day number to swings of that day; a rest day is 0, an unknown day is not there."""


def day_jumps(swings: Swings, n_days: int) -> list[int]:
    """Days more than 30 % above the largest of the 30 days before, and 40 swings above it, with enough of a history."""
    found = []
    for day in range(n_days):
        before = [swings[other] for other in range(day - 30, day) if other in swings]
        if day not in swings or len(before) < 20 or sum(value > 0 for value in before) < 5:
            continue
        if swings[day] > 1.3 * max(before) and swings[day] - max(before) >= 40:
            found.append(day)
    return found


def scaled_sum(swings: Swings, last: int, days: int, least: int) -> float | None:
    """Sum over the days up to ``last``, scaled by the days known."""
    known = [swings[day] for day in range(last - days + 1, last + 1) if day in swings]
    return sum(known) * days / len(known) if len(known) >= least else None


def week_jumps(swings: Swings, n_days: int) -> list[int]:
    """Days whose last week is 1.6 times the usual one, 150 swings above it, and a fifth above the largest of 12 weeks."""
    weeks = {day: scaled_sum(swings, day, 7, 5) for day in range(n_days)}
    found = []
    for day in range(n_days):
        week, month = weeks[day], scaled_sum(swings, day - 7, 28, 20)
        earlier = [then for end in range(max(day - 83, 0), day - 6) if (then := weeks[end]) is not None]
        if day not in swings or week is None or not month or not earlier:
            continue
        if week > 1.6 * month / 4 and week - month / 4 >= 150 and week > 1.2 * max(earlier):
            found.append(day)
    return found
