"""An own series of 14 answers, values by plain arithmetic: z, robust z and the predictive t that replaces both."""

from __future__ import annotations

import numpy as np
import pytest

from pipelines.measures.body.baseline import mid_p_percentile, predictive_t
from pipelines.measures.body.ratings import robust_score

EARLIER = np.array([9, 10, 8, 11, 9, 10, 12, 9, 10, 8, 9, 11, 10, 9], dtype=np.float64)
TODAY = 14.0


def test_mean_spread_and_plain_z() -> None:
    mean, spread = EARLIER.mean(), EARLIER.std(ddof=1)
    assert (mean, spread) == pytest.approx((9.6429, 1.1507), abs=5e-5)
    assert (TODAY - mean) / spread == pytest.approx(3.786, abs=5e-4)


def test_robust_score_exaggerates_ordinal_answers() -> None:
    assert robust_score(TODAY, EARLIER) == pytest.approx(6.070, abs=5e-4)
    assert robust_score(TODAY, EARLIER, floor=1.0) == pytest.approx(4.5)


def test_predictive_t_is_smaller_than_z() -> None:
    t, p = predictive_t(TODAY, float(EARLIER.mean()), float(EARLIER.std(ddof=1)), EARLIER.size)
    assert t == pytest.approx(3.786 / np.sqrt(1 + 1 / 14), abs=5e-4)
    assert 0 < p < 0.005


def test_floor_on_the_spread() -> None:
    flat, _ = predictive_t(3.0, 1.0, 0.0, 20, floor=0.6)
    assert flat == pytest.approx(2 / (0.6 * np.sqrt(1.05)))
    with pytest.raises(ValueError, match="spread"):
        predictive_t(3.0, 1.0, 0.0, 20)


def test_display_percentile_counts_ties_half_and_never_reaches_the_ends() -> None:
    assert mid_p_percentile(TODAY, EARLIER) == pytest.approx(100 * 14.5 / 15)
    assert mid_p_percentile(9, EARLIER) == pytest.approx(100 * (2 + 2.5 + 0.5) / 15)
    with pytest.raises(ValueError, match="earlier"):
        mid_p_percentile(1, np.array([]))
