"""Cold start and tiring against a reference library: least squares with session effects and errors clustered by session."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest
import statsmodels.api as sm
from scipy.stats import t

from pipelines.measures import within_session
from pipelines.measures.within_session import within_sessions
from schemas.core.summaries import WITHIN_SESSION


def test_coefficients_and_intervals_are_those_of_statsmodels(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(within_session, "WARMING_BALLS", (5.0,))
    monkeypatch.setattr(within_session, "TIRING_FROM", (25,))
    rng = np.random.default_rng(8)
    n_sessions, n = 14, 50
    session = np.repeat(np.arange(n_sessions), n)
    ball = np.tile(np.arange(1, n + 1), n_sessions).astype(float)
    basis = np.column_stack([np.exp(-(ball - 1) / 5), np.maximum(ball - 25, 0) / 10])
    y = 380 + rng.normal(0, 0.8, n_sessions)[session] + basis @ [-2.0, -0.4] + rng.normal(0, 1.4, len(ball))
    swings = pl.DataFrame(
        {"player_id": ["p"] * len(y), "session_id": [f"s{one:02d}" for one in session], "ball_no": ball.astype(int),
         "club_speed_mps": np.exp(y / 100)}
    )  # fmt: skip
    row = within_sessions(swings, WITHIN_SESSION.polars_schema()).row(0, named=True)
    dummies = np.equal.outer(session, np.arange(n_sessions)).astype(float)
    fitted = sm.OLS(y, np.hstack([basis, dummies])).fit(cov_type="cluster", cov_kwds={"groups": session, "use_correction": True})
    reach = t.ppf(0.95, n_sessions - 1)
    assert row["cold_pct"] == pytest.approx(fitted.params[0], rel=1e-6)
    assert row["tired_pct"] == pytest.approx(fitted.params[1], rel=1e-6)
    assert row["cold_high_pct"] - row["cold_pct"] == pytest.approx(reach * fitted.bse[0], rel=1e-6)
    assert row["tired_pct"] - row["tired_low_pct"] == pytest.approx(reach * fitted.bse[1], rel=1e-6)
