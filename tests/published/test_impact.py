"""Impact: Penner 2001 and 2003 (second-hand), the rules bodies' test speeds (read), Wood and others (abstract read)."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.measures.impact import (
    face_share,
    lofted_impact,
    off_centre_loss,
    rigid_face_restitution,
    spin_axis_deg,
    start_direction_deg,
)

MPH = 0.44704


@pytest.mark.parametrize(("club_mph", "ball_mph"), [(120.0, 176.0), (125.0, 183.0)])
def test_ball_speed_of_the_distance_test(club_mph: float, ball_mph: float) -> None:
    # 120 -> 176 and 125 -> 183 mph, loft 10 degrees: rules bodies (read); 183.3 rounds to their whole number
    assert float(lofted_impact(club_mph * MPH, 10.0).ball_speed_mps) / MPH == pytest.approx(ball_mph, abs=0.5)


def test_launch_over_loft_of_a_driver() -> None:
    # 0.82 of the loft: Penner 2001's equations (second-hand), computed
    assert float(lofted_impact(50.0, 10.0).launch_deg) / 10.0 == pytest.approx(0.82, abs=0.02)


def test_spin_of_the_rigid_head_is_too_high() -> None:
    # 3666 rpm at 113 mph and 14 degrees, where tour drives have 2686 (second-hand): why a share of it is used
    assert float(lofted_impact(113 * MPH, 14.0).spin_rpm) == pytest.approx(3666.0, abs=1.0)


@pytest.mark.parametrize(("speed", "restitution"), [(20.0, 0.80), (45.0, 0.73)])
def test_restitution_of_a_rigid_face(speed: float, restitution: float) -> None:
    # e = .86 - .0029 v (second-hand). The text beside it prints .85 at 20 and .78 at 45 m/s for another ball: .05 apart
    assert float(rigid_face_restitution(speed)) == pytest.approx(restitution, abs=0.005)


@pytest.mark.parametrize(("mm", "per_cent"), [(5, 0.19), (10, 0.74), (15, 1.65), (20, 2.90), (25, 4.46)])
def test_loss_off_the_middle(mm: float, per_cent: float) -> None:
    # rigid head, 5000 g cm2 (derived); 20 mm rounds to 2.90
    assert float(off_centre_loss(mm)) * 100 == pytest.approx(per_cent, abs=0.0051)


def test_share_of_the_face_lies_in_the_published_band() -> None:
    # 61-83 % (Wood, Henrikson, Broadie 2018, abstract read); follow-up .83/.81/.72 (second-hand)
    lofts = np.array([8.0, 10.0, 20.0, 34.0, 46.0, 56.0])
    assert ((face_share(lofts) >= 0.61) & (face_share(lofts) <= 0.83)).all()
    assert float(start_direction_deg(2.0, 0.0, 10.0)) == pytest.approx(1.66, abs=0.005)


def test_spin_axis_by_geometry() -> None:
    # atan(tan 2 / tan 12) (from memory): small angles give 2/12 rad
    assert float(spin_axis_deg(2.0, 0.0, 12.0)) == pytest.approx(np.degrees(np.arctan(2 / 12)), abs=0.2)
    assert float(spin_axis_deg(1.0, 1.0, 12.0)) == 0.0
