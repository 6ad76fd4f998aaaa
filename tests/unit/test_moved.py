"""What was lost of what had been reached, and what was gained within eight weeks."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from pipelines.measures.flags.chart_rules import GAIN_RATIO, STREAM, chart_candidates, players_judged
from pipelines.measures.flags.moved import gain_ratios, moved

START = dt.date(2026, 1, 5)


def sessions(level: np.ndarray, every: int = 4, **columns: object) -> pl.DataFrame:
    """A player whose sessions lie on the level, every so many days."""
    day = np.arange(0, level.size, every)
    frame = pl.DataFrame({"on_date": [START + dt.timedelta(days=int(one)) for one in day], "x": level[day], "level": level[day]})
    series = {"metric": "club_speed_mps", "player_id": "p1", "club_group": "driver", "club": "driver", "series": ""}
    given = {
        "variance": 0.5,
        "level_half": 0.4,
        "level_error": 0.25,
        "season_sine": 0.0,
        "season_cosine": 0.0,
        "growth": 0.0,
        **series,
        **columns,
    }
    return frame.with_columns(pl.lit(value).alias(name) for name, value in given.items())


def grown(fall: float) -> np.ndarray:
    """4 % in 200 days, then a fall within 40 days."""
    day = np.arange(280)
    return 380.0 + 4.0 * np.minimum(day, 200) / 200.0 + fall * np.clip((day - 200) / 40.0, 0.0, 1.0)


def test_it_is_measured_from_the_highest_mean_of_four_weeks() -> None:
    """By hand: sessions every four days; the mean of those of 28 days, at most 120 and at least 14 days ago."""
    level = grown(-3.0)
    rows = sessions(level)
    found = moved(rows, STREAM)
    day, last = np.arange(0, 280, 4), 276
    means = [level[[d for d in day if end - 28 < d <= end]].mean() for end in day if last - 120 < end <= last - 14]
    assert found["fallen"][-1] == pytest.approx(max(means) - level[last])
    assert found["fallen_error"][-1] == pytest.approx(np.sqrt(0.25**2 + 0.5 / 7.0))
    assert found["fallen"][:6].null_count() == 6


def test_four_sessions_in_four_weeks_are_enough_and_three_are_not() -> None:
    weekly, rarer = (moved(sessions(grown(-3.0), every), STREAM)["fallen"] for every in (7, 10))
    assert weekly.null_count() == 5  # the fourth session ends the first mean, which is known 14 days later
    assert rarer.null_count() == rarer.len()


def test_growth_that_stops_is_no_fall_and_the_season_is_none() -> None:
    stopped = moved(sessions(grown(0.0)), STREAM)["fallen"].drop_nulls()
    assert stopped.max() == pytest.approx(0.0, abs=1e-9)
    angle = 2.0 * np.pi * (np.arange(280) + sessions(grown(0.0))["on_date"].cast(pl.Int32)[0]) / 365.25
    summer = moved(sessions(grown(-3.0) + 1.5 * np.sin(angle), season_sine=1.5), STREAM)["fallen"]
    np.testing.assert_allclose(summer.drop_nulls(), moved(sessions(grown(-3.0)), STREAM)["fallen"].drop_nulls(), atol=1e-9)


def test_one_player_is_not_measured_from_another() -> None:
    one, two = sessions(grown(-3.0)), sessions(grown(0.0) + 9.0, player_id="p2")
    both = moved(pl.concat([one, two]), STREAM)
    assert both["fallen"].to_list() == [*moved(one, STREAM)["fallen"], *moved(two, STREAM)["fallen"]]


def test_a_gain_is_measured_from_the_mean_of_four_weeks_that_ended_six_weeks_ago() -> None:
    """By hand: sessions every four days; the last that is 42 days old ended the mean of the 28 days up to it."""
    level = grown(-3.0)
    found, day, last = moved(sessions(level), STREAM), np.arange(0, 280, 4), 276
    end = max(one for one in day if one <= last - 42)
    assert found["gained"][-1] == pytest.approx(level[last] - level[[d for d in day if end - 28 < d <= end]].mean())
    assert found["gained_error"][-1] == pytest.approx(np.sqrt(0.25**2 + 0.5 / 7.0))
    steady = moved(sessions(380.0 + 4.0 * np.arange(280) / 280.0), STREAM)["gained"].drop_nulls()[3:]  # of seven sessions each
    assert steady.to_list() == pytest.approx([4.0 / 280.0 * 56.0] * steady.len(), abs=1e-9)  # the middle lies eight weeks back
    angle = 2.0 * np.pi * (np.arange(280) + sessions(level)["on_date"].cast(pl.Int32)[0]) / 365.25
    summer = moved(sessions(level + 1.5 * np.sin(angle), season_sine=1.5), STREAM)["gained"]
    np.testing.assert_allclose(summer.drop_nulls(), found["gained"].drop_nulls(), atol=1e-9)


@pytest.mark.parametrize(("away", "known"), [(20, True), (80, False)])
def test_what_was_gained_over_a_long_break_is_not_known(away: int, known: bool) -> None:
    rows = sessions(grown(0.0)).filter(~pl.col("on_date").is_between(START + dt.timedelta(200 - away), START + dt.timedelta(199)))
    first = moved(rows, STREAM).filter(rows["on_date"] >= START + dt.timedelta(days=200))
    assert (first["gained"][0] is not None) == known
    assert first["fallen"][0] is not None


def chart(level: np.ndarray, upward: bool, **columns: object) -> pl.DataFrame:
    """Sessions whose chart has run up on one side; the level lies 1.6 beyond the normal."""
    sums = {"chart_up": 12.0 * upward, "chart_down": 12.0 * (not upward)}
    chances = {"p_chart_up": 1e-6 if upward else 1.0, "p_chart_down": 1.0 if upward else 1e-6}
    chances |= {"p_steep_up": 1.0, "p_steep_down": 1.0}
    given = {
        "device_id": "", "session_id": "s", "worthwhile": 1.0, "growth": 4.0, "usual_sd": 0.8, "usual_n": 40.0,
        "episode": 1 if upward else -1, "ended": "", "n": 20, **sums, **chances, **columns,
    }  # fmt: skip
    return sessions(level, **given).with_columns((pl.col("level") + (-1.6 if upward else 1.6)).alias("usual"))


def ratios(rows: pl.DataFrame) -> pl.Series:
    """Of every point of those who grow."""
    return gain_ratios(rows, STREAM, pl.lit(value=True))


def sure(rows: pl.DataFrame, kind: str) -> bool:
    said = chart_candidates(rows, players_judged(rows)).filter(pl.col("kind") == kind, pl.col("p_value") < 0.01)
    return not said.filter(pl.col("on_date") > START + dt.timedelta(days=120)).is_empty()  # before, eight weeks are not known


@pytest.mark.parametrize(("fall", "alert"), [(-2.5, True), (0.0, False)])
def test_a_fall_below_what_was_reached_is_sure_though_growth_is_in_doubt(fall: float, alert: bool) -> None:
    """The level lies 1.6 below the normal, in which growth went on: less than what growth may be wrong by."""
    rows = chart(grown(fall), upward=False)
    assert sure(rows, "speed_fall") == alert
    assert not sure(rows, "speed_rise")


def risen(gain: float, days: int, **columns: object) -> pl.DataFrame:
    """A rise by so much within so many days, after half a year."""
    day = np.arange(340)
    return chart(380.0 + gain * np.clip((day - 180) / days, 0.0, 1.0), upward=True, **columns)


@pytest.mark.parametrize(("gain", "days", "alert"), [(5.0, 55, True), (5.0, 150, False), (2.5, 55, False)])
def test_of_one_who_grows_a_rise_is_sure_where_it_is_more_than_growth_makes_in_eight_weeks(
    gain: float, days: int, alert: bool
) -> None:
    assert sure(risen(gain, days), "speed_rise") == alert


def test_of_one_who_grows_the_sessions_must_tell_a_gain_from_growth() -> None:
    """Seven per cent in four months, at its fastest more than 3.4 in eight weeks: sessions without error, so a shape alone."""
    day = np.arange(340)
    spurt = chart(380.0 + 4.0 * day / 365.25 + 7.0 / (1.0 + np.exp(-(day - 220.0) / 28.0)), upward=True, growth=7.0)
    found = moved(spurt, STREAM)
    assert found["gained"].max() > 3.7  # type: ignore[operator]
    assert ratios(spurt).max() < GAIN_RATIO  # type: ignore[operator]
    assert not sure(spurt, "speed_rise")
    assert ratios(spurt.with_columns(growth=0.0)).null_count() == spurt.height


def test_growth_is_told_by_a_year_before_the_quarter() -> None:
    day = np.arange(720)
    level = 380.0 + 4.0 * day / 365.25 + 4.0 * np.clip((day - 640.0) / 60.0, 0.0, 1.0)
    quarters = [{"growth": 6.0 + 0.1 * float(one // 90)} for one in day[::4]]
    told, other = (
        ratios(sessions(one).with_columns(pl.DataFrame(quarters)["growth"])) for one in (level, np.where(day < 260, 370.0, level))
    )
    np.testing.assert_allclose(told[-20:], other[-20:], atol=1e-9)
    assert told[-1] > GAIN_RATIO
    assert abs(told[90] - other[90]) > 1.0


def test_the_ratio_is_the_same_whichever_points_are_asked_for() -> None:
    rows = risen(5.0, 55)
    last = rows.with_columns(pl.when(pl.int_range(pl.len()) < 70).then(None).otherwise(pl.col("level")).alias("level"))
    np.testing.assert_allclose(ratios(last)[70:], ratios(rows)[70:], atol=1e-9)
    assert ratios(last)[:70].null_count() == 70


def test_the_ratio_is_told_where_it_is_asked_alone() -> None:
    rows = risen(5.0, 55)
    some = gain_ratios(rows, STREAM, pl.int_range(pl.len()) % 7 == 0)
    assert some.is_not_null().to_list() == [number % 7 == 0 for number in range(rows.height)]
    np.testing.assert_allclose(some.gather_every(7), ratios(rows).gather_every(7), atol=1e-9)


@pytest.mark.parametrize(("gain", "days", "decides"), [(5.0, 55, True), (4.0, 55, True), (5.0, 150, False)])
def test_asking_for_the_ratio_where_it_decides_finds_what_asking_everywhere_does(
    gain: float, days: int, decides: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    rows = risen(gain, days)
    rows = rows.with_columns(pl.when(pl.int_range(pl.len()) % 3 == 0).then(0.5).otherwise("p_chart_up").alias("p_chart_up"))
    asked: list[int] = []

    def everywhere(told: pl.DataFrame, stream: tuple[str, ...], where: pl.Expr) -> pl.Series:
        asked.append(told.select(where.fill_null(value=False).sum()).item())
        return gain_ratios(told, stream, pl.lit(value=True))

    found = chart_candidates(rows, players_judged(rows))
    monkeypatch.setattr("pipelines.measures.flags.chart_rules.gain_ratios", everywhere)
    assert found.equals(chart_candidates(rows, players_judged(rows)))
    assert (max(asked) > 0) == decides
    assert max(asked) < rows.height / 3


@pytest.mark.parametrize(("gain", "days", "alert"), [(2.5, 42, True), (2.5, 150, False)])
def test_of_an_adult_a_rise_is_sure_where_it_came_within_eight_weeks(gain: float, days: int, alert: bool) -> None:
    """2.5 % in five months is told as a notice, and later among what lasts."""
    rows = risen(gain, days, growth=0.0)
    assert sure(rows, "speed_rise") == alert
    assert chart_candidates(rows, players_judged(rows)).filter(kind="speed_rise")["opens"].any()


def test_an_adult_whose_gain_is_not_known_is_told_by_the_normal_alone_and_a_junior_by_more() -> None:
    """A session every ten days: no four weeks hold four of them."""
    day = np.arange(340)
    for growth, beyond, alert in ((0.0, 1.6, True), (4.0, 1.6, False), (4.0, 4.0, True)):
        rows = chart(380.0 + 0.0 * day, upward=True, growth=growth)[::3]
        rows = rows.with_columns((pl.col("level") - beyond).alias("usual"))
        assert sure(rows, "speed_rise") == alert
