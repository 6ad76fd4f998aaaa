from __future__ import annotations

import datetime as dt
import itertools

import numpy as np
import polars as pl
import pytest

from pipelines.measures.device.monitor import device_watch
from pipelines.measures.device.results import DeviceWatch
from pipelines.measures.device.window import month_offsets
from pipelines.measures.flags.device_rules import device_candidates

START = dt.date(2026, 1, 5)
FORM, NOISE = 0.7, 0.15


def observed(
    seed: int, n_players: int, n_days: int, offsets: dict[str, np.ndarray], own: np.ndarray | None = None
) -> pl.DataFrame:
    """Every player every other day on one of the devices; ``offsets``: by device, by day [%]."""
    rng = np.random.default_rng(seed)
    names, rows = list(offsets), []
    for player in range(n_players):
        level = 380.0 + 6.0 * rng.standard_normal()
        for day in range(player % 2, n_days, 2):
            device = names[int(rng.integers(len(names)))]
            change = 0.0 if own is None else own[player, day]
            x = level + offsets[device][day] + change + np.hypot(FORM, np.sqrt(NOISE)) * rng.standard_normal()
            rows.append((f"p{player:02d}", START + dt.timedelta(days=day), device, x))
    frame = pl.DataFrame(rows, schema=["player_id", "on_date", "device_id", "x"], orient="row")
    session = pl.format("{}-{}", "player_id", "on_date")
    return frame.with_columns(
        session.alias("session_id"), club_group=pl.lit("driver"), club=pl.lit("driver"), variance=pl.lit(FORM**2 + NOISE)
    )


def level(n_days: int, value: float = 0.0) -> np.ndarray:
    return np.full(n_days, value)


def stepped(n_days: int, at: int, amount: float) -> np.ndarray:
    return np.where(np.arange(n_days) >= at, amount, 0.0)


def watch(rows: pl.DataFrame) -> DeviceWatch:
    return device_watch(rows, 1.0)


def test_a_device_that_jumps_is_found_within_days_and_taken_off() -> None:
    rows = observed(1, 12, 120, {"bay-1": level(120), "bay-2": stepped(120, 80, 2.0)})
    found = watch(rows)
    assert [shift.device_id for shift in found.shifts] == ["bay-2"]
    shift = found.shifts[0]
    assert shift.found_on <= START + dt.timedelta(days=87)
    assert abs((shift.began_on - START).days - 80) <= 2
    assert shift.amount == pytest.approx(2.0, abs=0.6)
    assert shift.cause == "device"
    assert shift.told_on <= shift.found_on + dt.timedelta(days=14)
    after = (rows["on_date"] > shift.told_on).to_numpy() & (rows["device_id"] == "bay-2").to_numpy()
    assert found.offsets[after].mean() == pytest.approx(2.0, abs=0.6)


@pytest.mark.parametrize("seed", [33, 40, 41])
def test_days_on_which_the_sum_ran_up_by_chance_are_no_part_of_a_move(seed: int) -> None:
    """In these squads the sum began to run up one to three days before the device moved."""
    rows = observed(seed, 24, 130, {"bay-1": stepped(130, 75, 2.0), "bay-2": level(130)})
    found = watch(rows)
    (shift,) = found.shifts
    assert shift.dated.earliest_on == shift.dated.on == START + dt.timedelta(days=75)
    assert shift.told_amount == pytest.approx(2.0, abs=0.6)
    moved = [one for one in found.in_force if one.basis == "moved"]
    assert [(b.from_on - a.from_on).days for a, b in itertools.pairwise(moved)] == [7, 7, 7, 7]
    assert moved[-1].error == pytest.approx(min(one.error or 9.0 for one in moved))
    late = (rows["on_date"] > moved[-1].from_on).to_numpy() & (rows["device_id"] == "bay-1").to_numpy()
    assert found.offsets[late].mean() == pytest.approx(2.0, abs=0.3)


def test_a_device_that_is_put_right_is_seen_too() -> None:
    wrong = stepped(160, 60, 2.0) - stepped(160, 110, 2.0)
    shifts = watch(observed(2, 12, 160, {"bay-1": level(160), "bay-2": wrong})).shifts
    assert [np.sign(shift.amount) for shift in shifts] == [1.0, -1.0]


def test_players_who_really_change_are_no_shift_of_the_device() -> None:
    own = np.zeros((12, 120))
    own[:5] = np.clip((np.arange(120) - 60) / 30.0, 0.0, 1.0) * 3.0
    assert watch(observed(3, 12, 120, {"bay-1": level(120)}, own)).shifts == []


def test_nothing_happens_nothing_is_found() -> None:
    for seed in (4, 5, 6):
        assert watch(observed(seed, 10, 180, {"bay-1": level(180), "bay-2": level(180, 1.0)})).shifts == []


def test_a_constant_offset_is_learned_by_the_month() -> None:
    rows = observed(7, 12, 100, {"bay-1": level(100), "bay-2": level(100, 1.5)})
    found = watch(rows)
    late = (rows["on_date"] >= dt.date(2026, 3, 1)).to_numpy()
    on_second = (rows["device_id"] == "bay-2").to_numpy()
    difference = found.offsets[late & on_second].mean() - found.offsets[late & ~on_second].mean()
    assert difference == pytest.approx(1.5, abs=0.4)


def test_a_new_device_is_compared_every_week_and_its_players_are_followed_on_their_own_until_then() -> None:
    rows = observed(8, 12, 100, {"bay-1": level(100), "bay-2": level(100, 2.0)})
    rows = rows.filter((pl.col("device_id") == "bay-1") | (pl.col("on_date") >= START + dt.timedelta(days=40)))
    found = watch(rows)
    new = (rows["device_id"] == "bay-2").to_numpy()
    day = (rows["on_date"] - START).dt.total_days().to_numpy()
    assert {found.series[row] for row in np.flatnonzero(new & (day == 40))} == {"bay-2"}
    assert np.array([not found.series[row] for row in np.flatnonzero(new & (day >= 60))]).all()
    assert found.offsets[new & (day >= 60)] == pytest.approx(2.0, abs=0.5)
    told = [one.from_on for one in found.in_force if one.device_id == "bay-2" and one.from_on < START + dt.timedelta(days=85)]
    assert max((b - a).days for a, b in itertools.pairwise(told)) <= 8
    assert (found.doubt[new & (day >= 60)] > 0.0).all()


def test_a_device_of_one_player_is_followed_on_its_own() -> None:
    rows = observed(8, 6, 60, {"bay-1": level(60)})
    rows = rows.with_columns(pl.when(pl.col("player_id") == "p00").then(pl.lit("own")).otherwise("device_id").alias("device_id"))
    found = watch(rows)
    of_first = (rows["player_id"] == "p00").to_numpy()
    assert {name for name, own in zip(found.series, of_first, strict=True) if own} == {"own"}
    late = ~of_first & (rows["on_date"] > START + dt.timedelta(days=3)).to_numpy()
    assert {name for name, other in zip(found.series, late, strict=True) if other} == {""}


def few_then_three(joins_on: int = 40, leaves_on: int = 150, n_days: int = 150) -> pl.DataFrame:
    """Two players on one device; a third uses it too, from one day to another."""
    rows = observed(8, 3, n_days, {"own": level(n_days)})
    day = (pl.col("on_date") - START).dt.total_days()
    return rows.filter((pl.col("player_id") != "p02") | day.is_between(joins_on, leaves_on))


def test_a_third_player_on_a_device_takes_nothing_from_the_first_two() -> None:
    """Until then it is followed on its own; with the third, the same sessions on the same device are one series."""
    rows = few_then_three()
    before = rows.filter(pl.col("on_date") < START + dt.timedelta(days=40))
    assert set(watch(before).series) == {"own"}
    assert set(watch(rows).series) == {""}


def test_a_series_goes_on_when_fewer_use_its_device_again() -> None:
    assert set(watch(few_then_three(joins_on=0, leaves_on=20, n_days=200)).series) == {""}


def test_who_comes_from_a_device_of_few_leaves_it_behind() -> None:
    """No offset between the two can be told: sessions on the first are a series of their own for good."""
    rows = observed(8, 6, 80, {"bay-1": level(80)})
    day = (pl.col("on_date") - START).dt.total_days()
    at_home = (pl.col("player_id") == "p00") & (day < 40)
    rows = rows.with_columns(pl.when(at_home).then(pl.lit("own")).otherwise("device_id").alias("device_id"))
    found = watch(rows)
    assert {(device, series) for device, series in zip(rows["device_id"], found.series, strict=True)} == {
        ("own", "own"), ("bay-1", "")
    }  # fmt: skip


def test_what_is_known_of_a_day_does_not_depend_on_later_days() -> None:
    rows = observed(9, 10, 120, {"bay-1": level(120), "bay-2": stepped(120, 50, 2.0)})
    early = rows.filter(pl.col("on_date") <= START + dt.timedelta(days=70))
    whole, short = watch(rows), watch(early)
    kept = (rows["on_date"] <= START + dt.timedelta(days=70)).to_numpy()
    np.testing.assert_array_equal(whole.offsets[kept], short.offsets)
    assert short.shifts == [shift for shift in whole.shifts if shift.told_on <= START + dt.timedelta(days=70)]


def test_offsets_by_month_without_a_watch() -> None:
    rows = observed(10, 12, 100, {"bay-1": level(100), "bay-2": level(100, 1.5)}).with_columns(pl.lit("").alias("series"))
    offsets, in_force = month_offsets(rows, 1.0)
    in_march = (rows["on_date"] >= dt.date(2026, 3, 1)).to_numpy()
    second = (rows["device_id"] == "bay-2").to_numpy()
    assert abs(offsets[in_march & second].mean() - offsets[in_march & ~second].mean()) == pytest.approx(1.5, abs=0.4)
    assert np.all(offsets[(rows["on_date"] < dt.date(2026, 2, 1)).to_numpy()] == 0.0)
    assert {one.n_bridges for one in in_force} == {12}


def test_a_suspicion_is_a_candidate_for_two_weeks() -> None:
    found = watch(observed(1, 12, 120, {"bay-1": level(120), "bay-2": stepped(120, 80, 2.0)}))
    said = device_candidates(tuple(("club_speed_mps", shift) for shift in found.shifts))
    assert said["opens"].to_list() == [True, False, False]
    assert said["holds"].to_list() == [True, True, False]
    assert (said["on_date"][-1] - said["on_date"][0]).days == 14
    assert set(said["player_id"]) == {""}
    assert [reasons[-1] for reasons in said["reasons"]][:2] == ["cause:unclear", "cause:device"]


def trained(n_players: int, n_days: int, gain: float) -> np.ndarray:
    """Everybody gains the same over eight weeks from day 60 on [%]."""
    return np.tile(np.clip((np.arange(n_days) - 60) / 56.0, 0.0, 1.0) * gain, (n_players, 1))


def test_a_squad_that_trains_on_one_device_is_suspected_and_nothing_is_taken_off() -> None:
    found = watch(observed(11, 40, 130, {"bay-1": level(130)}, trained(40, 130, 3.0)))
    assert found.shifts
    assert {shift.cause for shift in found.shifts} == {"unclear"}
    np.testing.assert_array_equal(found.offsets, 0.0)
    assert found.in_force == []


def test_a_squad_that_trains_on_two_devices_is_no_move_of_either() -> None:
    found = watch(observed(12, 40, 130, {"bay-1": level(130), "bay-2": level(130, 1.0)}, trained(40, 130, 3.0)))
    assert {shift.cause for shift in found.shifts} <= {"players"}
    assert np.abs(found.offsets).max() < 1.6


def test_players_who_move_to_a_new_device_while_they_train_tell_its_offset() -> None:
    rows = observed(13, 30, 130, {"bay-1": level(130)}, trained(30, 130, 3.0))
    moved = pl.col("on_date") >= START + dt.timedelta(days=80)
    rows = rows.with_columns(
        pl.when(moved).then(pl.lit("bay-2")).otherwise("device_id").alias("device_id"),
        pl.when(moved).then(pl.col("x") + 1.0).otherwise("x").alias("x"),
    )
    late = (rows["on_date"] >= START + dt.timedelta(days=115)).to_numpy()
    assert watch(rows).offsets[late].mean() == pytest.approx(1.0, abs=0.5)


def test_a_new_device_whose_first_players_were_slow_has_not_moved() -> None:
    """Three players tell too small an offset; those who come next are compared with it, not taken for a move of the device."""
    rows = observed(21, 30, 150, {"bay-1": level(150)})
    day, number = (pl.col("on_date") - START).dt.total_days(), pl.col("player_id").str.slice(1).cast(pl.Int64)
    came = day >= 80 + number
    slow = came & (number < 4) & (day < 86)
    rows = rows.with_columns(
        pl.when(came).then(pl.lit("bay-2")).otherwise("device_id").alias("device_id"),
        pl.when(slow).then(pl.col("x") - 0.3).when(came).then(pl.col("x") + 1.8).otherwise("x").alias("x"),
    )
    found = watch(rows)
    assert found.shifts == []
    late = (rows["on_date"] >= START + dt.timedelta(days=110)).to_numpy() & (rows["device_id"] == "bay-2").to_numpy()
    assert found.offsets[late].mean() == pytest.approx(1.8, abs=0.4)


def test_a_new_device_that_moves_is_told_by_those_who_know_it() -> None:
    rows = observed(22, 12, 140, {"bay-1": level(140), "bay-2": stepped(140, 100, 2.0)})
    rows = rows.filter((pl.col("device_id") == "bay-1") | (pl.col("on_date") >= START + dt.timedelta(days=40)))
    found = watch(rows)
    assert [(shift.device_id, shift.cause) for shift in found.shifts] == [("bay-2", "device")]
    assert abs((found.shifts[0].began_on - START).days - 100) <= 3


def test_a_person_says_that_the_device_moved() -> None:
    rows = observed(14, 20, 130, {"bay-1": stepped(130, 70, 2.0)})
    found = watch(rows).shifts[0].found_on
    decided = found + dt.timedelta(days=20)
    told = device_watch(rows, 1.0, lambda _, on: ("device", decided) if on == found else None)
    after, before = ((rows["on_date"] > decided).to_numpy(), (rows["on_date"] <= decided).to_numpy())
    assert (told.shifts[0].cause, told.shifts[0].told_on) == ("device", decided)
    assert told.offsets[after].min() == told.offsets[after].max() == pytest.approx(2.0, abs=0.4)
    np.testing.assert_array_equal(told.offsets[before], 0.0)
    assert [one.basis for one in told.in_force] == ["decided"]


def test_a_person_takes_back_what_was_taken_off() -> None:
    rows = observed(1, 12, 120, {"bay-1": level(120), "bay-2": stepped(120, 80, 2.0)})
    shift = watch(rows).shifts[0]
    decided = shift.told_on + dt.timedelta(days=5)
    told = device_watch(rows, 1.0, lambda _, on: ("players", decided) if on == shift.found_on else None)
    assert told.shifts[0].cause == "players"
    (back,) = (one for one in told.in_force if one.basis == "decided")
    before = [one.offset for one in told.in_force if one.device_id == "bay-2" and one.from_on < back.from_on][-1]
    assert back.offset == pytest.approx(before - shift.told_amount)


def ratios(rows: pl.DataFrame, seed: int, moved: np.ndarray) -> pl.DataFrame:
    """Ball over club, turned: it moves by ``moved`` with the day."""
    rng = np.random.default_rng(seed)
    day = (rows["on_date"] - START).dt.total_days().to_numpy()
    x = 40.0 + moved[day] + 0.4 * rng.standard_normal(rows.height)
    return rows.with_columns(pl.Series("x", x), variance=pl.lit(0.16))


def test_one_wrong_reading_is_told_by_club_and_ball_of_the_same_shots() -> None:
    rows = observed(15, 20, 110, {"bay-1": stepped(110, 70, 2.0)})
    found = device_watch(rows, 1.0, ratios=ratios(rows, 16, stepped(110, 70, 2.0)))
    assert found.shifts[0].cause == "device"
    late = (rows["on_date"] > found.shifts[0].told_on).to_numpy()
    assert found.offsets[late].mean() == pytest.approx(2.0, abs=0.5)


def test_what_club_and_ball_have_told_once_is_not_taken_off_again() -> None:
    twice = stepped(120, 60, 2.0) + stepped(120, 68, 2.0)
    rows = observed(21, 20, 120, {"bay-1": twice})
    found = device_watch(rows, 1.0, ratios=ratios(rows, 22, twice))
    assert [shift.cause for shift in found.shifts] == ["device", "device"]
    late = (rows["on_date"] >= START + dt.timedelta(days=95)).to_numpy()
    assert found.offsets[late].mean() == pytest.approx(4.0, abs=0.6)


def test_players_who_train_keep_the_ratio_and_a_slow_change_of_it_is_no_step() -> None:
    rows = observed(11, 40, 130, {"bay-1": level(130)}, trained(40, 130, 3.0))
    for moved in (level(130), np.clip((np.arange(130) - 60) / 56.0, 0.0, 1.0) * 3.0):
        found = device_watch(rows, 1.0, ratios=ratios(rows, 18, moved))
        assert {shift.cause for shift in found.shifts} == {"unclear"}
        np.testing.assert_array_equal(found.offsets, 0.0)
