"""Rules of thumb for young players, shown as notes beside the numbers; none of them is a limit, and none opens a flag."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class YouthNote:
    """One note that applies.

    Attributes
    ----------
    code : str
        ``hours_above_age``, ``no_free_day``, ``short_sleep``, ``full_effort_on_consecutive_days``.
    value, reference : float
        What was found, and what the rule of thumb names.
    """

    code: str
    value: float
    reference: float


def youth_notes(
    age_years: float | None,
    hours_per_week: float | None,
    rest_days_in_week: int | None,
    mean_sleep_h: float | None,
    full_effort_days_in_a_row: int | None,
) -> tuple[YouthNote, ...]:
    """Notes that apply to a player who may be below 18; none for others, and none from a number that is unknown.

    Parameters
    ----------
    age_years : float or None
        Reached in this year, from the year of birth: one of 18 may still be 17.
    hours_per_week, mean_sleep_h : float or None
        Hours of organised practice in the last week, hours slept a night over the last week.
    rest_days_in_week, full_effort_days_in_a_row : int or None

    Notes
    -----
    More weekly hours than years of age, and less than 8 h sleep, went with more injuries in young athletes (one case-control
    study, one small retrospective survey: neither is a limit, neither is about golf alone). One day a week away from the sport:
    from memory. No full-effort swings on consecutive days: own cautious choice.

    Source: [Jayanthi2015], [Milewski2014]
    Checked: tests/published/test_youth_notes.py
    """
    if age_years is None or age_years > 18:
        return ()
    found = []
    if hours_per_week is not None and hours_per_week > age_years:
        found.append(YouthNote("hours_above_age", hours_per_week, float(age_years)))
    if rest_days_in_week is not None and rest_days_in_week < 1:
        found.append(YouthNote("no_free_day", float(rest_days_in_week), 1.0))
    if mean_sleep_h is not None and mean_sleep_h < 8:
        found.append(YouthNote("short_sleep", mean_sleep_h, 8.0))
    if full_effort_days_in_a_row is not None and full_effort_days_in_a_row >= 2:
        found.append(YouthNote("full_effort_on_consecutive_days", float(full_effort_days_in_a_row), 1.0))
    return tuple(found)
