"""The session summary against scipy and against distributions in closed form."""

from __future__ import annotations

from datetime import date

import numpy as np
import polars as pl
import pytest
from scipy import stats

from pipelines.measures.summary import MISHIT_DISTANCE2, session_summary
from schemas.core.summaries import SCATTER_METRICS, SUMMARY_METRICS

KEPT_IN_WIDE_SESSION = 0.98
WORST_CLEAN_RATE = {20: 0.055, 60: 0.027}


def shots(session: str = "s1", club: str = "driver", **values: np.ndarray) -> pl.DataFrame:
    n = len(next(iter(values.values())))
    columns = {name: values.get(name, [None] * n) for name in SUMMARY_METRICS}
    return pl.DataFrame(
        {
            "session_id": [session] * n,
            "player_id": ["p1"] * n,
            "club_group": ["driver" if club == "driver" else "iron"] * n,
            "club": [club] * n,
            "on_date": [date(2026, 3, 1)] * n,
            "session_kind": ["range"] * n,
            "device_id": ["d1"] * n,
            "ball": ["range"] * n,
            "indoors": [False] * n,
            **columns,
        },
        schema_overrides=dict.fromkeys(SUMMARY_METRICS, pl.Float64),
    )


def summary(frame: pl.DataFrame) -> pl.DataFrame:
    return session_summary(frame, tuple(SUMMARY_METRICS), SCATTER_METRICS)


def test_the_modified_z_score_of_the_handbook_drops_what_scipy_says_lies_beyond_its_cut() -> None:
    # Reference library: scipy.stats.median_abs_deviation(scale="normal"); cut 3.5 of Iglewicz & Hoaglin (from memory).
    values = np.array([44.1, 44.6, 44.9, 45.0, 45.2, 45.3, 45.9, 61.0])
    scale = stats.median_abs_deviation(values, scale="normal")
    kept = values[np.abs(values - np.median(values)) <= 3.5 * scale]
    row = summary(shots(club_speed_mps=values)).row(0, named=True)
    assert row["club_speed_mps_n"] == kept.size == 7
    assert row["club_speed_mps_centre"] == pytest.approx(kept.mean(), rel=1e-12)
    assert row["club_speed_mps_spread"] == pytest.approx(kept.std(ddof=1), rel=1e-12)


def test_without_a_median_deviation_the_mean_deviation_stands_in() -> None:
    # sqrt(pi/2) times the mean absolute deviation estimates the standard deviation of normal values (closed form).
    values = np.array([12.0] * 9 + [60.0])
    row = summary(shots(launch_deg=values)).row(0, named=True)
    assert row["launch_deg_n"] == 9
    assert row["launch_deg_centre"] == 12.0
    assert row["launch_deg_spread"] == 0.0


def test_clean_normal_shots_keep_nearly_all_their_information() -> None:
    rng = np.random.default_rng(1)
    frame = pl.concat([shots(f"s{i:03}", club_speed_mps=rng.normal(45, 0.7, 30)) for i in range(300)])
    result = summary(frame)
    # Var(mean of 30) = 0.7^2 / 30; 300 sessions, so the estimate itself is good to about 8 %.
    assert result["club_speed_mps_centre"].var() == pytest.approx(0.7**2 / 30, rel=0.25)
    assert result["club_speed_mps_spread"].mean() == pytest.approx(0.7, rel=0.03)  # dropping tails costs about 2 %
    assert result["club_speed_mps_n"].mean() / 30 > KEPT_IN_WIDE_SESSION


def test_one_shot_in_twelve_mishit_moves_the_centre_by_less_than_a_tenth_of_a_standard_deviation() -> None:
    rng = np.random.default_rng(2)
    carry = rng.normal(210, 6, 60)
    carry[:5] -= 60
    row = summary(shots(carry_m=carry)).row(0, named=True)
    assert abs(row["carry_m_centre"] - carry[5:].mean()) < 0.6
    assert abs(np.mean(carry) - carry[5:].mean()) > 4


def test_the_capped_deviation_of_normal_shots_is_that_of_the_closed_form() -> None:
    # E min(|Z|, c) = 2 (phi(0) - phi(c)) + 2 c (1 - Phi(c)) with c = 3.5 times the quantile of 3/4 (closed form, MAD of N(0, 1)).
    cap = 3.5 * stats.norm.ppf(0.75)
    expected = 2 * (stats.norm.pdf(0) - stats.norm.pdf(cap)) + 2 * cap * stats.norm.sf(cap)
    values = stats.norm.ppf((np.arange(4001) + 0.5) / 4001) * 14
    row = summary(shots(offline_m=values)).row(0, named=True)
    assert np.exp(row["offline_m_log_mad"]) == pytest.approx(14 * expected, rel=1e-3)


def test_log_scatter_varies_from_session_to_session_as_the_notes_say() -> None:
    # Sampling SD about sqrt(0.6 / n); our own simulation, one seed, tolerance 15 %.
    rng = np.random.default_rng(3)
    frame = pl.concat([shots(f"s{i:03}", offline_m=rng.normal(0, 14, 40)) for i in range(400)])
    assert summary(frame)["offline_m_log_mad"].std() == pytest.approx(np.sqrt(0.6 / 40), rel=0.15)


def test_the_mishit_cut_is_the_quantile_of_chi_square() -> None:
    # Reference library: scipy.stats.chi2.
    assert pytest.approx(stats.chi2.ppf(0.99, 2), rel=1e-12) == MISHIT_DISTANCE2


@pytest.mark.parametrize(("n", "worst"), WORST_CLEAN_RATE.items())
def test_clean_sessions_have_few_mishits(n: int, worst: float) -> None:
    rng = np.random.default_rng(4)
    frame = pl.concat([shots(f"s{i:03}", offline_m=rng.normal(0, 14, n), carry_m=rng.normal(210, 8, n)) for i in range(300)])
    rate = summary(frame)["mishit_rate"].mean()
    assert 0.01 < rate < worst


def test_mishits_are_counted_and_not_deleted() -> None:
    rng = np.random.default_rng(5)
    offline, carry = rng.normal(0, 8, 40), rng.normal(210, 6, 40)
    offline[:3], carry[:3] = 70, 120
    row = summary(shots(offline_m=offline, carry_m=carry)).row(0, named=True)
    assert row["n_shots"] == 40
    assert 3 <= row["n_mishits"] <= 5
    assert row["mishit_rate"] == row["n_mishits"] / 40


def wild_share(offline: np.ndarray) -> float:
    """Share of wild shots over sessions of equal length."""
    n_sessions, n = offline.shape
    frame = pl.concat([shots(session=f"s{k:04d}", offline_m=list(offline[k])) for k in range(n_sessions)])
    return float(summary(frame)["offline_m_wild_n"].sum()) / (n_sessions * n)


@pytest.mark.parametrize("n", [8, 12, 20, 40, 100])
def test_one_clean_shot_in_a_hundred_is_wild_in_short_and_long_sessions(n: int) -> None:
    # The normal quantile of .995 on either side is 2.5758 (printed in any table of the normal distribution, from memory); the
    # rest of the cut makes up for median and MAD of few shots.
    clean = np.random.default_rng(n).normal(0.0, 12.0, (6000 // n, n))
    assert wild_share(clean) == pytest.approx(0.010, abs=0.005)


def test_a_pattern_twice_as_wide_has_no_more_wild_shots_and_one_with_wild_shots_has() -> None:
    rng = np.random.default_rng(3)
    clean = rng.normal(0.0, 12.0, (150, 30))
    wild = np.where(rng.random(clean.shape) < 0.15, clean + np.sign(rng.normal(size=clean.shape)) * 60.0, clean)
    assert wild_share(2.0 * clean) == wild_share(clean)
    assert wild_share(wild) == pytest.approx(0.15, abs=0.03)


def test_wild_shots_are_not_told_below_eight_or_without_spread() -> None:
    assert summary(shots(offline_m=[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 90.0]))["offline_m_wild_n"][0] is None
    assert summary(shots(offline_m=[2.0] * 9))["offline_m_wild_n"][0] is None
    assert summary(shots(offline_m=[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 90.0]))["offline_m_wild_n"][0] == 1


def test_how_far_out_shots_lie_is_kept_where_wild_ones_are_told() -> None:
    """By hand: about the middle 3.5 they lie .5, .5, 1.5, 1.5, 2.5, 2.5, 3.5 and 86.5 away; 1.5 robust deviations are 4.4."""
    told = summary(shots(offline_m=[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 90.0]))
    assert told["offline_m_mad"][0] == 2.0
    assert told["offline_m_far"].to_list() == [[86.5]]
    assert summary(shots(offline_m=[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 90.0]))["offline_m_mad"][0] is None


def test_which_shots_lost_ball_speed_is_kept_with_how_far_to_a_side_they_ended() -> None:
    """By hand: the middle ratio is 1.45 and the median distance from it .01, so that 1.5 robust deviations are .0222."""
    ratios = [1.44, 1.44, 1.44, 1.45, 1.45, 1.46, 1.46, 1.30, 1.50, None]
    offline = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 90.0, 7.0, 8.0]
    told = summary(shots(offline_m=offline, speed_ratio=ratios))
    assert told["speed_ratio_told_n"][0] == 9
    assert told["speed_ratio_lost"][0].to_list() == pytest.approx([0.15 / 1.45])
    # of 0 to 8 and 90 the middle is 4.5 and the median distance from it 2.5
    assert told["speed_ratio_lost_side"][0].to_list() == pytest.approx([85.5 / (1.4826022 * 2.5)])
    nowhere = summary(shots(offline_m=[None] * 10, speed_ratio=ratios))
    assert nowhere["speed_ratio_told_n"][0] == 0
    assert nowhere["speed_ratio_lost"][0].to_list() == []
