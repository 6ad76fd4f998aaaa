"""Transfer: the parts add up, whatever the order, and name what was changed."""

from __future__ import annotations

from datetime import date

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.measures.impact import off_centre_loss
from pipelines.measures.transfer import Delivery, distances_per_speed, transfers
from pipelines.measures.transfer.months import transfer_by_month, transfer_levels
from pipelines.measures.transfer.strike import strike_factors, strike_sums
from schemas.core.ball import TRANSFER_MONTH
from schemas.core.transfer import TRANSFER_LEVEL

deliveries = st.builds(
    Delivery,
    club_speed_mps=st.floats(36.0, 54.0),
    speed_ratio=st.floats(1.38, 1.50),
    launch_deg=st.floats(9.0, 17.0),
    spin_rpm=st.floats(1900.0, 3800.0),
    strike_loss=st.one_of(st.none(), st.floats(0.0, 0.03)),
    carry_m=st.one_of(st.none(), st.floats(150.0, 280.0)),
)


@settings(max_examples=20, deadline=None)
@given(deliveries, deliveries)
def test_the_parts_add_up_to_the_change_of_carry(before: Delivery, after: Delivery) -> None:
    found = transfers([(before, after)])[0]
    assert found is not None
    parts = found.on_offer_m + found.strike_m + found.speed_ratio_m + found.launch_m + found.spin_m + found.rest_m
    assert parts == pytest.approx(found.carry_change_m, abs=1e-9)
    if before.carry_m is not None and after.carry_m is not None:
        assert found.carry_change_m == pytest.approx(after.carry_m - before.carry_m)
    else:
        assert found.rest_m == 0.0
    if not found.strike_known:
        assert found.strike_m == 0.0


@settings(max_examples=12, deadline=None)
@given(deliveries)
def test_there_and_back_cancel(before: Delivery) -> None:
    after = Delivery(before.club_speed_mps + 2.0, before.speed_ratio - 0.02, before.launch_deg + 1.0, before.spin_rpm + 200.0)
    there, back = transfers([(before, after), (after, before)])
    assert there is not None
    assert back is not None
    assert there.on_offer_m == pytest.approx(-back.on_offer_m, abs=1e-9)
    assert there.spin_m == pytest.approx(-back.spin_m, abs=1e-9)


def test_only_what_was_changed_has_a_part() -> None:
    start = Delivery(45.0, 1.46, 12.0, 2700.0, 0.004)
    faster = transfers([(start, Delivery(47.0, 1.46, 12.0, 2700.0, 0.004))])[0]
    off_centre = transfers([(start, Delivery(45.0, 1.46 * 0.98 / 0.996, 12.0, 2700.0, 0.02))])[0]
    assert faster is not None
    assert off_centre is not None
    (worth,) = distances_per_speed(*(np.array([one]) for one in (46.0, 1.46, 12.0, 2700.0)))
    assert worth is not None
    assert faster.on_offer_m == pytest.approx(2.0 * worth.carry_m_per_mps, rel=0.01)
    assert faster.arrived_share == pytest.approx(1.0)
    assert max(abs(part) for part in (faster.strike_m, faster.speed_ratio_m, faster.launch_m, faster.spin_m)) < 1e-9
    assert off_centre.strike_m < -3.0
    assert off_centre.speed_ratio_m == pytest.approx(0.0, abs=1e-9)
    assert off_centre.arrived_share is None


def test_outside_the_model_there_is_no_decomposition() -> None:
    assert transfers([(Delivery(45.0, 1.46, 12.0, 2700.0), Delivery(45.0, 1.46, 80.0, 2700.0))]) == [None]
    assert transfers([]) == []
    alone, beside = (
        distances_per_speed(*(np.array([one, *more]) for one, more in zip((45.0, 1.46, 12.0, 2700.0), others, strict=True)))
        for others in ([()] * 4, [(45.0, 48.0), (1.46, 1.5), (80.0, 9.0), (2700.0, 2500.0)])
    )
    assert beside[1] is None
    assert beside[0] == alone[0]
    assert beside[2] is not None


def month_shots(month: int, speed: float, ratio: float, carry: float, n: int = 12) -> pl.DataFrame:
    return pl.DataFrame(
        {
            "session_id": [f"{month}-{k % 3}" for k in range(n)],
            "player_id": "p1",
            "on_date": [date(2026, month, 3 + k % 3) for k in range(n)],
            "club": "driver",
            "club_group": "driver",
            "device_id": "d1",
            "carry_m": [carry + 0.1 * (k % 3) for k in range(n)],
            "carry_pooled_m": [carry + 2.0 + 0.1 * (k % 3) for k in range(n)],
            "carry_bearman_harvey_m": [carry - 2.0 + 0.1 * (k % 3) for k in range(n)],
            "club_speed_mps": [speed + 0.01 * (k % 3) for k in range(n)],
            "comparable_speed_ratio": ratio,
            "launch_deg": 12.0,
            "spin_rpm": 2700.0,
            "strike_side_mm": pl.Series([None] * n, dtype=pl.Float64),
            "strike_height_mm": pl.Series([None] * n, dtype=pl.Float64),
            "is_factor_known": True,
        }
    )


def test_months_say_why_there_is_no_decomposition() -> None:
    shots = pl.concat(
        [month_shots(1, 45.0, 1.46, 215.0), month_shots(2, 45.0, 1.46, 215.0, n=5), month_shots(7, 47.0, 1.41, 216.0)]
    )
    found = transfer_by_month(transfer_levels(shots), TRANSFER_MONTH.polars_schema())
    assert found["reason"].to_list() == ["no_reference", "too_few_shots", ""]
    row = found.row(2, named=True)
    assert row["on_offer_m"] > 10.0
    assert row["speed_ratio_m"] < -8.0
    assert row["arrived_share"] < 0.15
    assert row["strike_known"] is False
    assert row["carry_model_error_m"] == pytest.approx(2.0)
    assert row["carry_change_model_error_m"] == pytest.approx(0.0, abs=1e-9)  # the same on both sides: it falls out
    assert found["carry_change_model_error_m"].to_list()[:2] == [None, None]
    away = 1.6449 * (row["carry_error_m"] ** 2 + row["reference_carry_error_m"] ** 2) ** 0.5
    assert row["carry_change_high_m"] - row["carry_change_m"] == pytest.approx(away)
    assert row["carry_change_m"] - row["carry_change_low_m"] == pytest.approx(away)
    assert found["carry_change_low_m"].to_list()[:2] == [None, None]
    assert found.row(0, named=True)["on_offer_m"] is None
    assert dict(found.schema) == TRANSFER_MONTH.polars_schema()
    assert transfer_by_month(transfer_levels(shots.clear()), TRANSFER_MONTH.polars_schema()).is_empty()
    asked = pl.DataFrame({"player_id": found["player_id"][:1], "month_on": found["month_on"][2:3]})
    assert transfer_by_month(transfer_levels(shots), TRANSFER_MONTH.polars_schema(), asked).equals(found[2:]), (
        "still held against the first month"
    )


def test_what_a_month_tells_by_itself_does_not_depend_on_others() -> None:
    """So closed months can stand: to the last digit, whoever else and whatever other months are beside."""
    mine = [month_shots(month, 45.0 + month / 10, 1.46, 215.0).pipe(_with_strikes, month) for month in (1, 2, 7)]
    shots = pl.concat([*mine, *(one.with_columns(player_id=pl.lit("p2")) for one in mine)])
    together = transfer_levels(shots)
    parts = shots.with_columns(pl.col("on_date").dt.month().alias("month")).partition_by("player_id", "month")
    alone = pl.concat([transfer_levels(one.drop("month")) for one in parts])
    assert together.equals(alone.sort("player_id", "club", "month_on"))
    assert together["strike_n"].min() == 12
    assert set(together.columns) == set(TRANSFER_LEVEL.names)


def _with_strikes(shots: pl.DataFrame, seed: int) -> pl.DataFrame:
    rng = np.random.default_rng(seed)
    side, height, ratio = rng.normal(0, 8, shots.height), rng.normal(0, 6, shots.height), rng.normal(1.46, 0.01, shots.height)
    return shots.with_columns(strike_side_mm=pl.lit(side), strike_height_mm=pl.lit(height), comparable_speed_ratio=pl.lit(ratio))


def struck(side_mm: float, height_mm: float, n: int) -> pl.DataFrame:
    """Shots of a month of which ``n`` were measured where they were struck."""
    known = pl.int_range(pl.len()) < n
    return month_shots(1, 45.0, 1.46, 215.0).with_columns(
        strike_side_mm=pl.when(known).then(pl.lit(side_mm)), strike_height_mm=pl.when(known).then(pl.lit(height_mm))
    )


@pytest.mark.parametrize(
    ("side", "height", "per_cent"), [(3, 4, 0.19), (-6, 8, 0.74), (12, -9, 1.65), (20, 0, 2.90), (0, -25, 4.46)]
)
def test_a_months_strike_loss_is_that_of_the_rigid_head_times_the_published_factor(
    side: float, height: float, per_cent: float
) -> None:
    # the table of tests/published/test_impact.py, at 5, 10, 15, 20 and 25 mm from the middle
    found = transfer_by_month(transfer_levels(struck(side, height, 12)), TRANSFER_MONTH.polars_schema())
    assert found["strike_loss"].item() * 100 / 1.75 == pytest.approx(per_cent, abs=0.0051)
    assert found.select("strike_factor", "strike_factor_source", "strike_factor_n").row(0) == (1.75, "too_few", 12)


def test_strike_loss_wants_ten_strikes() -> None:
    found = [
        transfer_by_month(transfer_levels(struck(20.0, 0.0, n)), TRANSFER_MONTH.polars_schema())["strike_loss"].item()
        for n in (9, 10)
    ]
    assert found[0] is None
    assert found[1] * 100 / 1.75 == pytest.approx(2.90, abs=0.0051)


def test_the_part_of_the_strike_is_what_the_ball_speed_lost_is_worth() -> None:
    # the ball leaves 5 % slower for the strike alone: the same as a club 5 % slower
    start = Delivery(45.0, 1.46, 12.0, 2700.0, 0.0)
    off_centre = transfers([(start, Delivery(45.0, 1.46 * 0.95, 12.0, 2700.0, 0.05))])[0]
    slower = transfers([(start, Delivery(45.0 * 0.95, 1.46, 12.0, 2700.0, 0.0))])[0]
    assert off_centre is not None
    assert slower is not None
    assert off_centre.strike_m == pytest.approx(slower.on_offer_m, abs=1e-9)
    assert off_centre.speed_ratio_m == pytest.approx(0.0, abs=1e-9)


def strikes(factor: float, n: int, noise: float, seed: int = 3) -> pl.DataFrame:
    """Strikes of sessions of 20 on days of different speed ratio, each costing ``factor`` times the loss of a rigid head."""
    rng = np.random.default_rng(seed)
    number = np.arange(n) // 20
    loss = off_centre_loss(np.hypot(rng.normal(0, 8, n), rng.normal(0, 6, n)))
    ratio = (1.46 + 0.02 * np.sin(number)) * (1.0 - factor * loss) * (1.0 + noise * rng.standard_normal(n))
    return pl.DataFrame(
        {
            "player_id": "p1",
            "club": "driver",
            "month_on": [date(2026, 1 + int(k) // 6, 1) for k in number],
            "session_id": [f"s{k}" for k in number],
            "speed_ratio": ratio,
            "rigid_loss": loss,
        }
    )


@pytest.mark.parametrize("factor", [1.0, 1.8, 2.6])
def test_the_own_factor_of_strikes_is_found(factor: float) -> None:
    exact = strike_factors(strike_sums(strikes(factor, 240, 0.0))).row(-1, named=True)
    assert exact["strike_factor"] == pytest.approx(factor, rel=0.01)
    noisy = [strike_factors(strike_sums(strikes(factor, 400, 0.006, seed))).row(-1, named=True) for seed in range(20)]
    assert {row["strike_factor_source"] for row in noisy} == {"own"}
    away = [(row["strike_factor"] - factor) / row["strike_factor_error"] for row in noisy]
    assert abs(np.mean(away)) < 0.7
    assert 0.6 < np.std(away) < 1.5


def test_what_the_own_strikes_do_not_tell_is_the_published_factor_with_the_reason() -> None:
    few, unclear = strike_factors(strike_sums(strikes(1.8, 90, 0.006))), strike_factors(strike_sums(strikes(1.8, 120, 0.04)))
    absurd = strike_factors(strike_sums(strikes(5.0, 200, 0.0)))
    assert few["strike_factor_source"].to_list()[-1] == "too_few"
    assert [frame["strike_factor_source"].to_list()[-1] for frame in (unclear, absurd)] == ["unclear", "unclear"]
    assert {frame["strike_factor"].to_list()[-1] for frame in (few, unclear, absurd)} == {1.75}


def test_the_factor_of_a_month_knows_nothing_of_later_strikes() -> None:
    shots = strikes(1.8, 400, 0.006)
    early = shots.filter(pl.col("month_on") < date(2026, 3, 1))
    assert strike_factors(strike_sums(early)).equals(
        strike_factors(strike_sums(shots)).filter(pl.col("month_on") < date(2026, 3, 1))
    )


def test_a_factor_that_becomes_known_is_no_change_of_strike() -> None:
    """The same strikes before and after: the factor of the month counts for both sides."""
    before, after = struck(12.0, 9.0, 12), struck(12.0, 9.0, 12)
    later = after.with_columns(pl.lit(date(2026, 7, 3)).alias("on_date"), pl.format("7-{}", "session_id").alias("session_id"))
    row = transfer_by_month(transfer_levels(pl.concat([before, later])), TRANSFER_MONTH.polars_schema()).row(-1, named=True)
    assert row["strike_known"] is True
    assert row["strike_m"] == pytest.approx(0.0, abs=1e-9)


def test_the_part_of_the_strike_grows_with_the_factor() -> None:
    """From the middle to 15 mm off it: 1.65 % of ball speed for a rigid head, times 1.75, some 1.2 % of carry for each."""
    before, after = struck(0.0, 0.0, 12), struck(12.0, 9.0, 12)
    later = after.with_columns(pl.lit(date(2026, 7, 3)).alias("on_date"), pl.format("7-{}", "session_id").alias("session_id"))
    row = transfer_by_month(transfer_levels(pl.concat([before, later])), TRANSFER_MONTH.polars_schema()).row(-1, named=True)
    assert row["strike_m"] == pytest.approx(-215.0 * 1.2 * 1.75 * 0.0165, rel=0.12)
