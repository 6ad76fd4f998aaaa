"""On which day a device moved: by brute force, and how often the interval of the day holds."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from pipelines.measures.device.dating import DatedMove, dated_move

START = dt.date(2026, 1, 5)
NOISE = 0.8


def squad(seed: int, moved: int, amount: float, n_players: int = 8, n_days: int = 40, share: float = 0.4) -> pl.DataFrame:
    """Players who come on some days, nearly all on one device, of which readings change on a day."""
    rng = np.random.default_rng(seed)
    rows = []
    for player in range(n_players):
        level = 380.0 + 6.0 * rng.standard_normal()
        for day in np.flatnonzero(rng.random(n_days) < share):
            device = "bay-1" if rng.random() < 0.8 else "bay-2"
            x = level + amount * (device == "bay-1" and day >= moved) + NOISE * rng.standard_normal()
            rows.append((f"p{player}", START + dt.timedelta(days=int(day)), device, x))
    frame = pl.DataFrame(rows, schema=["player_id", "on_date", "device_id", "x"], orient="row")
    return frame.with_columns(club=pl.lit("driver"), variance=pl.lit(NOISE**2))


def dated(rows: pl.DataFrame, found: int) -> DatedMove:
    told = dated_move(rows, "bay-1", START + dt.timedelta(days=found), 1.0)
    assert told is not None
    return told


def by_brute_force(rows: pl.DataFrame, found: int) -> dict[int, float]:
    """Probability of each day: the density of all values, levels of players all but free, the move N(0, 3**2)."""
    day = (rows["on_date"] - START).dt.total_days().to_numpy()
    its, player = (rows["device_id"] == "bay-1").to_numpy(), rows["player_id"].rank("dense").to_numpy().astype(int) - 1
    values = rows["x"].to_numpy() - rows["x"].to_numpy().mean()
    log = {}
    for k in sorted(set(day[its & (day >= found - 21) & (day <= found)])):
        design = np.column_stack([np.eye(player.max() + 1)[player] * 1e3, 3.0 * (its & (day >= k))])
        covariance = design @ design.T + NOISE**2 * np.eye(day.size)
        log[int(k)] = -0.5 * (np.linalg.slogdet(covariance)[1] + values @ np.linalg.solve(covariance, values))
    top = max(log.values())
    whole = sum(np.exp(one - top) for one in log.values())
    return {k: float(np.exp(one - top) / whole) for k, one in log.items()}


@pytest.mark.parametrize(("seed", "amount"), [(1, 1.5), (2, -1.0), (3, 0.6)])
def test_the_days_are_as_likely_as_the_density_of_all_values_says(
    monkeypatch: pytest.MonkeyPatch, seed: int, amount: float
) -> None:
    monkeypatch.setattr("pipelines.measures.device.dating.ODD_AT", 1e9)
    rows = squad(seed, 30, amount)
    told, expected = dated(rows, 36), by_brute_force(rows, 36)
    days = list(expected)
    until = np.cumsum([expected[day] for day in days])
    assert (told.on - START).days == max(expected, key=lambda day: expected[day])
    assert (told.earliest_on - START).days == min(days[int(np.searchsorted(until, 0.05))], (told.on - START).days)
    assert (told.latest_on - START).days == max(days[int(np.searchsorted(until, 0.95))], (told.on - START).days)


@pytest.mark.parametrize(("amount", "widest"), [(2.5, 0.5), (1.2, 4.0)])
def test_the_interval_of_the_day_holds_and_is_wide_where_the_move_is_small(amount: float, widest: float) -> None:
    """The first day with sessions of the device since the move lies within; of 60 squads."""
    holds, widths, off = [], [], []
    for seed in range(60):
        rows = squad(100 + seed, 30, amount, share=0.3)
        told = dated(rows, 35)
        day = (rows.filter(device_id="bay-1")["on_date"] - START).dt.total_days()
        first = day.filter(day >= 30).min()
        holds.append((told.earliest_on - START).days <= first <= (told.latest_on - START).days)
        widths.append((told.latest_on - told.earliest_on).days)
        off.append((told.amount - amount) / told.error)
    assert np.mean(holds) >= 0.85
    assert np.mean(widths) <= widest
    assert np.mean(np.abs(off) <= 1.645) >= 0.80


def test_an_odd_session_before_the_move_does_not_date_it() -> None:
    rows = squad(5, 30, 2.0)
    odd = rows.with_columns(
        pl.when((pl.col("player_id") == "p1") & (pl.col("on_date") == START + dt.timedelta(days=27)))
        .then(pl.col("x") + 9.0)
        .otherwise("x")
        .alias("x")
    )
    assert dated(odd, 36).on == dated(rows, 36).on


def test_nothing_is_dated_where_nobody_was_there_before() -> None:
    rows = squad(6, 30, 2.0).filter(pl.col("on_date") >= START + dt.timedelta(days=36), pl.col("device_id") == "bay-1")
    rows = rows.filter(pl.col("on_date") == pl.col("on_date").min())
    assert dated_move(rows, "bay-1", START + dt.timedelta(days=36), 1.0) is None
    assert dated_move(rows.clear(), "bay-1", START + dt.timedelta(days=36), 1.0) is None
