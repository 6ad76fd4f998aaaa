"""What lasts of load and stiffness: told with all its steps, however slowly it came, and rarely of those who never changed."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import polars as pl
import pytest

from pipelines.measures.body.baseline import Above, AnswerBaseline, HeldNormal, above_normal, held_normal, own_normal
from pipelines.measures.body.items import REGION_ITEMS, body_items
from pipelines.measures.body.lasting import lasting_stiffness
from pipelines.measures.flags.body_rules import body_rises
from pipelines.measures.load.grid import Readings, day_grid
from pipelines.measures.load.lasting import lasting_load
from pipelines.measures.reach import student_reach
from reports.findings.lasting import lasting_sentences
from reports.numbers import Numbers
from reports.words import words
from schemas.academy import Units

AS_OF = dt.date(2026, 6, 28)


def practice(seed: int, factor: np.ndarray, n_players: int = 1) -> pl.DataFrame:
    """Swings a day, four days of seven at about 80; ``factor``: one for each day, the last on ``AS_OF``."""
    rng = np.random.default_rng(seed)
    n = factor.size
    on = [AS_OF - dt.timedelta(days=n - 1 - day) for day in range(n)]
    swings = np.where(np.arange(n) % 7 < 4, 80 * factor, 0.0) * rng.lognormal(0, 0.35, (n_players, n))
    players = np.repeat([f"p{one}" for one in range(n_players)], n)
    return pl.DataFrame({"player_id": players, "on_date": on * n_players, "swings_all": swings.round().astype(int).ravel()})


def test_a_load_that_crept_up_to_twice_is_told_as_twice() -> None:
    """Four steps of 19 % in four months: the mean of the four weeks before never lies more than a fifth below the last week."""
    factor = 1.19 ** np.clip((np.arange(420) - 280) // 30, 0, 4)
    found = lasting_load(practice(1, factor), AS_OF)
    assert found["against"].to_list() == ["first", "year"]
    assert found["lasts"].all()
    assert found["change"].to_list() == pytest.approx([100 * math.log(2.0)] * 2, abs=20)
    first = found.row(0, named=True)
    assert (first["n_then"], first["n_now"]) == (12, 4)
    assert first["change_low"] < 100 * math.log(2.0) < first["change_high"]
    (said,) = lasting_sentences([first], Numbers(words("en"), Units()))
    share = round(100 * math.expm1(first["change"] / 100))
    assert 75 <= share <= 130
    assert f"+{share}" in said


def test_of_steady_load_nothing_lasts_nineteen_times_in_twenty_and_intervals_hold() -> None:
    found = lasting_load(practice(2, np.ones(420), n_players=300), AS_OF)
    assert found["lasts"].mean() < 0.03
    covered = (found["change_low"] <= 0) & (found["change_high"] >= 0)
    assert 0.88 <= covered.mean() <= 0.99


def test_unknown_days_are_no_days_off_and_a_short_history_is_not_compared() -> None:
    factor = np.ones(420)
    whole = practice(3, factor)
    holes = whole.filter(pl.col("on_date").dt.weekday() != 3)
    ratio = lasting_load(holes, AS_OF)["now_level"] / lasting_load(whole, AS_OF)["now_level"]
    assert ratio.to_list() == pytest.approx([1.0, 1.0], abs=0.25)
    assert lasting_load(practice(3, np.ones(150)), AS_OF).is_empty()
    assert lasting_load(whole.filter(pl.col("on_date") < AS_OF - dt.timedelta(days=30)), AS_OF).is_empty()


def answers(seed: int, level: np.ndarray, n_players: int = 1, share: float = 0.7) -> pl.DataFrame:
    rng = np.random.default_rng(seed)
    n = level.size
    told = np.clip(np.round(level + rng.normal(0, 0.8, (n_players, n))), 0, 10)
    value = pl.Series(told.ravel()).set(pl.Series(rng.random(told.size) > share), None)
    on = [AS_OF - dt.timedelta(days=n - 1 - day) for day in range(n)]
    players = np.repeat([f"p{one}" for one in range(n_players)], n)
    missing = [pl.lit(None, dtype=pl.Float64).alias(name) for name in REGION_ITEMS if name != "stiff_lead_wrist"]
    return pl.DataFrame({"player_id": players, "on_date": on * n_players, "stiff_lead_wrist": value}).with_columns(missing)


def test_a_wrist_that_has_been_stiff_for_months_is_told_against_the_first_answers() -> None:
    level = np.where(np.arange(420) < 200, 0.5, 3.5)
    found = lasting_stiffness(answers(4, level), AS_OF)
    assert found["lasts"].to_list() == [True, True]
    first = found.row(0, named=True)
    assert (first["region"], first["against"]) == ("lead_wrist", "first")
    assert first["change_low"] <= 3.0 <= first["change_high"] + 0.3
    assert first["n_then"] >= 40
    (said,) = lasting_sentences([first], Numbers(words("en"), Units()))
    assert "lead wrist" in said
    assert f"{first['n_now']} answers" in said


def test_of_steady_answers_nothing_lasts_nineteen_times_in_twenty() -> None:
    found = lasting_stiffness(answers(5, np.full(420, 2.0), n_players=200), AS_OF)
    assert found["lasts"].mean() < 0.03
    assert ((found["change_low"] <= 0) & (found["change_high"] >= 0)).mean() > 0.88


def test_too_few_answers_are_not_compared() -> None:
    assert lasting_stiffness(answers(6, np.full(120, 2.0)), AS_OF).is_empty()
    assert lasting_stiffness(answers(6, np.full(420, 2.0), share=0.05), AS_OF).is_empty()


def test_only_regions_are_compared_the_first_answers_before_those_of_a_year_ago() -> None:
    """A check-in holds answers about fatigue and sleep too."""
    stiff = answers(4, np.where(np.arange(420) < 200, 0.5, 3.5), n_players=40).with_columns(fatigue=pl.lit(3.0))
    found = lasting_stiffness(stiff, AS_OF)
    assert found["region"].unique().to_list() == ["lead_wrist"]
    assert found["against"].to_list() == ["first", "year"] * 40


def test_the_first_answers_about_a_region_are_its_own() -> None:
    """Of a region that was asked about later than others: as if it were the only one, whatever they begin with."""
    wrist = answers(4, np.where(np.arange(420) < 200, 0.5, 3.5), n_players=3)
    neck = pl.when(pl.col("on_date") >= AS_OF - dt.timedelta(days=260)).then(10.0 - pl.col("stiff_lead_wrist"))
    both = lasting_stiffness(wrist.with_columns(neck.alias("stiff_neck")), AS_OF)
    alone = wrist.select("player_id", "on_date", neck.alias("stiff_neck"))
    assert both.filter(pl.col("region") == "neck").equals(lasting_stiffness(alone, AS_OF))
    assert both.filter(pl.col("region") == "lead_wrist").equals(lasting_stiffness(wrist, AS_OF))
    first = alone.drop_nulls().group_by("player_id").agg(pl.col("on_date").min()).sort("player_id")["on_date"]
    told = both.filter(pl.col("region") == "neck", pl.col("against") == "first")
    assert (told["then_on"] < first + dt.timedelta(days=84)).all()
    assert (told["then_on"] > first + dt.timedelta(days=70)).all()


@pytest.mark.parametrize(("recent", "spread"), [(1.4, 0.3), (1.8, 1.5)], ids=["within half a point", "a score below two"])
def test_a_held_normal_is_let_go_when_either_rule_says_so(recent: float, spread: float) -> None:
    """Normal 1.0 of 100 answers when the last ones rose by 3 points. Standard errors of the day after by hand: spread times
    ``sqrt(.1 + 2.3/100)``, .105 and .526: .4 points are 3.8 of them, .8 points are 1.5."""

    def row(*values: float) -> Readings:
        return Readings(np.array([values]), np.ones((1, 2), dtype=np.bool_))

    normal = AnswerBaseline(row(1.0, 1.3), np.full((1, 2), spread), np.full((1, 2), 100))
    ones = np.ones((1, 2), dtype=np.int64)
    free = Above(row(4.0, recent), row(3.0, recent - 1.3), row(4.0, 0.0), row(0.0, 1.0), ones, np.full((1, 2), 0.1))
    held = held_normal(row(4.0, recent), normal, free)
    assert held.normal.mean.value.tolist() == [[1.0, 1.3]]


def grid(level: np.ndarray, seed: int = 7) -> Readings:
    told = np.clip(np.round(level + np.random.default_rng(seed).normal(0, 0.7, (3, level.size))), 0, 10)
    return Readings(told, np.ones(told.shape, dtype=np.bool_))


def held_of(told: Readings) -> HeldNormal:
    free = own_normal(told)
    return held_normal(told, free, above_normal(told, free))


def test_a_wrist_at_three_and_a_half_for_a_month_is_not_its_own_normal() -> None:
    told = grid(np.where(np.arange(200) < 120, 0.6, 3.5))
    free, held = own_normal(told), held_of(told)
    a_month_on = 160
    assert (free.mean.value[:, a_month_on] > 1.1).all()  # what it had become by then, though it leaves the last three weeks out
    assert (free.mean.value[:, -1] > 2.0).all()
    assert (held.normal.mean.value[:, a_month_on] < 1.0).all()
    assert (held.normal.mean.value[:, -1] < 1.0).all()
    assert not held.lasted.any()


def test_after_four_months_it_is_let_go_as_lasting_and_answers_that_come_back_let_it_go_before() -> None:
    stays = held_of(grid(np.where(np.arange(300) < 120, 0.6, 3.5)))
    assert (stays.lasted.sum(axis=1) == 1).all()
    assert (stays.lasted.argmax(axis=1) >= 240).all()
    level = np.where((np.arange(300) >= 120) & (np.arange(300) < 140), 3.5, 0.6)
    back = held_of(grid(level))
    assert not back.lasted.any()
    assert (back.normal.mean.value[:, 160] == own_normal(grid(level)).mean.value[:, 160]).all()


def test_a_held_normal_does_not_look_ahead() -> None:
    told = grid(np.where(np.arange(200) < 120, 0.6, 3.5))
    past = Readings(told.value[:, :150], told.known[:, :150])
    assert np.array_equal(held_of(told).normal.mean.value[:, :150], held_of(past).normal.mean.value)


def test_what_is_told_of_an_item_stands_on_the_held_normal_and_the_flag_says_that_it_lasts() -> None:
    level = np.where(np.arange(300) < 120, 0.6, 3.5)
    told = answers(8, level, share=1.0)
    days = day_grid(told["player_id"], told["on_date"].min(), told["on_date"].max())  # type: ignore[arg-type] # dates, not empty
    (item,) = body_items(told, days, ("stiff_lead_wrist",))
    assert item.normal.mean.value[0, 160] < 1.0
    rows = body_rises(item, days, np.ones(days.shape), np.ones(days.n_days))
    assert rows.filter("holds")["on_date"].n_unique() > 110
    assert rows.filter(pl.col("reasons").list.contains("closed:lasting")).height == 1


@pytest.mark.parametrize(("freedom", "printed"), [(1, 6.314), (5, 2.015), (30, 1.697)])
def test_the_reach_of_an_interval_is_that_of_printed_tables_of_t(freedom: int, printed: float) -> None:
    """Student's t, upper 5 %: three digits as statistical tables print them (from memory)."""
    assert student_reach(pl.Series([freedom])).item() == pytest.approx(printed, abs=5e-4)


def test_the_order_in_which_rows_are_read_and_other_players_change_no_digit() -> None:
    days, told = practice(8, np.linspace(1.0, 1.7, 420), n_players=40), answers(9, np.linspace(1.0, 4.0, 420), n_players=40)
    for measure, rows in ((lasting_load, days.filter(pl.col("on_date").dt.day() % 9 > 0)), (lasting_stiffness, told)):
        whole = measure(rows, AS_OF)
        assert all(measure(rows.sample(fraction=1.0, shuffle=True, seed=seed), AS_OF).equals(whole) for seed in range(6))
        one = measure(rows.filter(pl.col("player_id") == "p7"), AS_OF)
        assert one.equals(whole.filter(pl.col("player_id") == "p7"))
