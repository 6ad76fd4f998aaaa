from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from pipelines.measures.trend.priors import CORRELATION
from pipelines.measures.trend.resemblance import LEAST_BETWEEN, resemblance

START = dt.date(2025, 1, 6)


def squad(seed: int, correlations: list[float], n: int = 100, drift: float = 0.0) -> pl.DataFrame:
    """A session every second day of each player, form with the player's own autocorrelation, levels that drift."""
    rng = np.random.default_rng(seed)
    parts = []
    for number, r in enumerate(correlations):
        form = rng.standard_normal(n)
        for session in range(1, n):
            form[session] = r * form[session - 1] + np.sqrt(1.0 - r * r) * form[session]
        days = [START + dt.timedelta(days=2 * session) for session in range(n)]
        parts.append(pl.DataFrame({"player_id": f"p{number:02d}", "on_date": days, "x": form + drift * np.arange(n)}))
    return pl.concat(parts).with_columns(
        from_on=pl.col("on_date").dt.truncate("1q"),
        metric=pl.lit("club_speed_mps"),
        club_group=pl.lit("driver"),
        expected=pl.lit(0.0),
        variance=pl.lit(1.0),
    )


def at_the_end(rows: pl.DataFrame) -> np.ndarray:
    told, _ = resemblance(rows, ("player_id",))
    return told.group_by("player_id", maintain_order=True).last()["correlation"].to_numpy()


def test_players_of_slow_form_are_told_from_the_others() -> None:
    own = at_the_end(squad(1, [0.0] * 24 + [0.6] * 6))
    assert own[24:].mean() > 0.25
    assert own[:24].mean() < 0.15


def test_a_squad_that_shares_its_form_pulls_each_player_toward_it() -> None:
    own = at_the_end(squad(2, [0.35] * 30))
    assert own.mean() == pytest.approx(0.33, abs=0.06)
    assert own.std() < 0.07


def test_levels_that_drift_are_no_resemblance() -> None:
    plain, drifting = (at_the_end(squad(3, [0.0] * 20, drift=slope)).mean() for slope in (0.0, 0.04))
    assert drifting == pytest.approx(plain, abs=0.02)


def test_before_there_are_enough_sessions_the_prior_holds_and_nothing_looks_ahead() -> None:
    rows = squad(4, [0.5] * 8)
    told, quarters = resemblance(rows, ("player_id",))
    first = told.group_by("player_id", maintain_order=True).first()
    assert (first["correlation"] == CORRELATION).all()
    assert (first["correlation_error"] == LEAST_BETWEEN).all()
    assert quarters["correlation"].to_list()[0] == CORRELATION
    early = rows.filter(pl.col("on_date") < dt.date(2025, 5, 20))
    again, _ = resemblance(early, ("player_id",))
    kept = told.filter(pl.col("on_date") < dt.date(2025, 5, 20))
    np.testing.assert_array_equal(again["correlation"].to_numpy(), kept["correlation"].to_numpy())


def test_one_player_of_slow_form_in_a_quiet_squad_is_told_too() -> None:
    """The squad's own spread cannot show one in fifty: that players differ at least so much is assumed."""
    own = [at_the_end(squad(seed, [0.0] * 49 + [0.4]))[49] for seed in range(8)]
    assert np.mean(own) > 0.15


def test_the_error_of_an_own_estimate_is_what_is_left_beside_the_squad() -> None:
    """Own simulation: 60 players of an autocorrelation drawn anew, the true one within 1.645 errors; it falls with sessions."""
    true = np.clip(np.random.default_rng(6).normal(0.2, 0.15, 60), 0.0, 0.5)
    told, _ = resemblance(squad(6, true.tolist(), n=160), ("player_id",))
    last = told.group_by("player_id", maintain_order=True).last()
    error = last["correlation_error"].to_numpy()
    held = np.abs(last["correlation"].to_numpy() - true) <= 1.645 * error
    assert 0.8 < held.mean() < 0.97
    assert error.max() < 0.12
    of_one = told.filter(player_id="p00")["correlation_error"]
    assert of_one[80] > of_one[150] > 0.0
