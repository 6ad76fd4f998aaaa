"""Rules of thumb for young players: Jayanthi 2015 (second-hand), Milewski 2014 (abstract read). Notes, never limits."""

from __future__ import annotations

import pytest

from pipelines.measures.load.youth import youth_notes


@pytest.mark.parametrize(("hours", "noted"), [(13.9, False), (14.0, False), (14.1, True)])
def test_hours_above_age(hours: float, noted: bool) -> None:
    assert bool(youth_notes(14, hours, 2, 9, 0)) is noted


@pytest.mark.parametrize(("sleep", "noted"), [(8.0, False), (7.9, True)])
def test_sleep_below_eight_hours(sleep: float, noted: bool) -> None:
    assert [note.code for note in youth_notes(15, 5, 2, sleep, 0)] == (["short_sleep"] if noted else [])


def test_no_notes_for_adults_or_unknown_ages_or_unknown_numbers() -> None:
    assert youth_notes(19, 40, 0, 4, 5) == ()
    assert len(youth_notes(18, 40, 0, 4, 5)) == 4  # of the year of birth alone: the birthday may lie ahead
    assert youth_notes(None, 40, 0, 4, 5) == ()
    assert youth_notes(14, None, None, None, None) == ()


def test_all_notes() -> None:
    codes = [note.code for note in youth_notes(12, 13, 0, 7, 2)]
    assert codes == ["hours_above_age", "no_free_day", "short_sleep", "full_effort_on_consecutive_days"]
