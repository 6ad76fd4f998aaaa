"""Johnson et al. 2012, J Athl Train 47:52-60 (abstract read): trunk rotation, between-day SEM 1.4-2.0, detectable change
3.9-5.6 deg."""

from __future__ import annotations

from datetime import date

import polars as pl
import pytest

from pipelines.measures.mobility.change import minimal_detectable_change, mobility_change, mobility_changes


@pytest.mark.parametrize(("error", "unrounded", "printed"), [(1.4, 3.88, 3.9), (2.0, 5.54, 5.6)])
def test_detectable_change(error: float, unrounded: float, printed: float) -> None:
    found = minimal_detectable_change(error)
    assert found == pytest.approx(unrounded, abs=0.005)
    assert found == pytest.approx(printed, abs=0.06)  # the errors are printed to .1, which moves the product by .14


def test_one_shot_of_club_speed() -> None:
    # Typical error .3899 m/s of an own test-retest series: 1.0807 by plain arithmetic.
    assert minimal_detectable_change(0.3899) == pytest.approx(1.0807, abs=5e-5)


def test_weekly_form_score() -> None:
    # A validation of the weekly form prints SEM 6 and SDC 16 points (read): 16.63, and 16.08 for 5.8.
    assert minimal_detectable_change(6) == pytest.approx(16.63, abs=0.005)
    assert minimal_detectable_change(5.8) == pytest.approx(16.08, abs=0.005)


def test_side_carry_of_mid_handicaps() -> None:
    # Villarrasa-Sapina 2022 (abstract read): SEM above 12.05 m, MDC above 33.41 m.
    assert minimal_detectable_change(12.05) == pytest.approx(33.41, abs=0.02)  # the SEM is rounded


def test_verdicts() -> None:
    assert mobility_change("trunk_turn", 40, 45).verdict == "no clear change"
    assert mobility_change("trunk_turn", 40, 46).verdict == "more"
    assert mobility_change("trunk_turn", 46, 40).verdict == "less"
    assert not mobility_change("hip_inward_turn", 30, 35).is_published


def test_the_frame_agrees() -> None:
    rows = pl.DataFrame(
        {
            "player_id": ["P1"] * 3,
            "date": [date(2026, 1, 1), date(2026, 2, 1), date(2026, 3, 1)],
            "test": ["trunk_turn"] * 3,
            "side": [None, None, None],
            "value_deg": [40.0, 45.0, 46.0],
        },
        schema_overrides={"side": pl.String},
    )
    found = mobility_changes(rows)
    assert found["verdict"].to_list() == [None, "no clear change", "more"]
    assert found["since_last_deg"].to_list() == [None, 5.0, 1.0]
    assert found["side"].to_list() == ["both"] * 3
