"""How far one who grows lies below what was reached before."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from pipelines.measures.flags.chart_rules import STREAM, chart_candidates, players_judged
from pipelines.measures.flags.fallen import fallen
from pipelines.measures.trend.points import interval_factor

START = dt.date(2026, 1, 5)


def sessions(level: np.ndarray, every: int = 4, **columns: object) -> pl.DataFrame:
    """A player whose sessions lie on the level, every so many days."""
    day = np.arange(0, level.size, every)
    frame = pl.DataFrame({"on_date": [START + dt.timedelta(days=int(one)) for one in day], "x": level[day], "level": level[day]})
    series = {"metric": "club_speed_mps", "player_id": "p1", "club_group": "driver", "club": "driver", "series": ""}
    given = {"variance": 0.5, "level_half": 0.4, "season_sine": 0.0, "season_cosine": 0.0, **series, **columns}
    return frame.with_columns(pl.lit(value).alias(name) for name, value in given.items())


def grown(fall: float) -> np.ndarray:
    """4 % in 200 days, then a fall within 40 days."""
    day = np.arange(280)
    return 380.0 + 4.0 * np.minimum(day, 200) / 200.0 + fall * np.clip((day - 200) / 40.0, 0.0, 1.0)


def test_it_is_measured_from_the_highest_mean_of_four_weeks() -> None:
    """By hand: sessions every four days; the mean of those of 28 days, at most 120 and at least 14 days ago."""
    level = grown(-3.0)
    rows = sessions(level)
    found = fallen(rows, STREAM)
    day, last = np.arange(0, 280, 4), 276
    means = [level[[d for d in day if end - 28 < d <= end]].mean() for end in day if last - 120 < end <= last - 14]
    assert found["fallen"][-1] == pytest.approx(max(means) - level[last])
    assert found["fallen_error"][-1] == pytest.approx(np.sqrt((0.4 / interval_factor()) ** 2 + 0.5 / 7.0))
    assert found["fallen"][:6].null_count() == 6


def test_four_sessions_in_four_weeks_are_enough_and_three_are_not() -> None:
    weekly, rarer = (fallen(sessions(grown(-3.0), every), STREAM)["fallen"] for every in (7, 10))
    assert weekly.null_count() == 5  # the fourth session ends the first mean, which is known 14 days later
    assert rarer.null_count() == rarer.len()


def test_growth_that_stops_is_no_fall_and_the_season_is_none() -> None:
    stopped = fallen(sessions(grown(0.0)), STREAM)["fallen"].drop_nulls()
    assert stopped.max() == pytest.approx(0.0, abs=1e-9)
    angle = 2.0 * np.pi * (np.arange(280) + sessions(grown(0.0))["on_date"].cast(pl.Int32)[0]) / 365.25
    summer = fallen(sessions(grown(-3.0) + 1.5 * np.sin(angle), season_sine=1.5), STREAM)["fallen"]
    np.testing.assert_allclose(summer.drop_nulls(), fallen(sessions(grown(-3.0)), STREAM)["fallen"].drop_nulls(), atol=1e-9)


def test_one_player_is_not_measured_from_another() -> None:
    one, two = sessions(grown(-3.0)), sessions(grown(0.0) + 9.0, player_id="p2")
    both = fallen(pl.concat([one, two]), STREAM)
    assert both["fallen"].to_list() == [*fallen(one, STREAM)["fallen"], *fallen(two, STREAM)["fallen"]]


@pytest.mark.parametrize(("fall", "alert"), [(-2.5, True), (0.0, False)])
@pytest.mark.parametrize("metric_side", ["speed_fall", "speed_rise"])
def test_a_fall_below_what_was_reached_is_sure_though_growth_is_in_doubt(fall: float, alert: bool, metric_side: str) -> None:
    """The level lies 1.6 below the normal, in which growth went on: less than what growth may be wrong by."""
    level = grown(fall)
    rows = sessions(
        level, device_id="", session_id="s", worthwhile=1.0, growth=4.0, usual_sd=0.8, usual_n=40.0, chart_up=0.0,
        chart_down=12.0, p_chart_up=1.0, p_chart_down=1e-6, episode=-1, ended="", n=20,
    ).with_columns((pl.col("level") + 1.6).alias("usual"))  # fmt: skip
    said = chart_candidates(rows, players_judged(rows)).filter(kind=metric_side)
    sure = said.filter(pl.col("p_value") < 0.01)
    assert (not sure.is_empty()) == (alert and metric_side == "speed_fall")
