from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from pipelines.measures.flags.chart_rules import LISTED_AT, chart_candidates, players_judged, stall_candidates
from pipelines.measures.flags.engine import flag_history
from pipelines.measures.flags.state import AlertPolicy
from pipelines.measures.scatter.rings import FAR_AT, MAD_TO_SD
from pipelines.measures.shift.steady_state import SHARE_IN_SCORES, chart_p_value
from pipelines.measures.trend.assembly import MOST_RESEMBLANCE, Trends, trends
from tests.unit.trend_world import START, summaries

N_PLAYERS, N_SESSIONS = 10, 80


@pytest.fixture(scope="module")
def fallen() -> Trends:
    """The first player loses 3 % at session 50; the second only .3 %."""
    share = np.zeros((N_PLAYERS, N_SESSIONS))
    share[0, 50:], share[1, 50:] = -0.03, -0.003
    return trends(summaries(1, N_PLAYERS, N_SESSIONS, speed_share=share))


def of_kind(said: pl.DataFrame, kind: str, player: str) -> pl.DataFrame:
    return said.filter(pl.col("kind") == kind, pl.col("player_id") == player)


def test_a_fall_opens_after_it_began_and_not_before(fallen: Trends) -> None:
    said = of_kind(chart_candidates(fallen.points, players_judged(fallen.points)), "speed_fall", "p00")
    opened = said.filter(pl.col("opens"))
    session = int(opened["sources"][0][-1].split("-")[1])
    assert 50 <= session <= 57
    row = opened.row(0, named=True)
    assert row["value"] < row["baseline"]
    assert row["low"] < row["value"] < row["high"]
    assert row["p_value"] < 0.01


def test_a_fall_that_is_not_worth_while_does_not_open(fallen: Trends) -> None:
    assert not of_kind(chart_candidates(fallen.points, players_judged(fallen.points)), "speed_fall", "p01")["opens"].any()


def test_the_sources_are_the_last_sessions_up_to_the_night(fallen: Trends) -> None:
    row = (
        of_kind(chart_candidates(fallen.points, players_judged(fallen.points)), "speed_fall", "p00")
        .filter(pl.col("opens"))
        .row(0, named=True)
    )
    assert len(row["sources"]) == 8
    last = fallen.points.filter(pl.col("session_id") == row["sources"][-1])["on_date"][0]
    assert last == row["on_date"]


def test_the_number_of_tests_is_told(fallen: Trends) -> None:
    said = chart_candidates(fallen.points, players_judged(fallen.points)).filter(pl.col("kind") == "speed_fall")
    assert said["n_players"].max() == N_PLAYERS
    assert set(said["n_streams"]) == {1}


def test_one_row_per_stream_and_night(fallen: Trends) -> None:
    said = chart_candidates(fallen.points, players_judged(fallen.points))
    assert said.unique(["player_id", "on_date", "kind", "metric", "club_group"]).height == said.height


def test_a_rise_that_stops_is_a_stall() -> None:
    share = np.zeros((N_PLAYERS, 110))
    share[0] = 0.05 * np.clip((np.arange(110) - 20) / 40.0, 0.0, 1.0)
    points = trends(summaries(3, N_PLAYERS, 110, speed_share=share)).points
    said = stall_candidates(points, players_judged(points))
    opened = said.filter(pl.col("player_id") == "p00", pl.col("opens"))
    assert opened.height >= 1
    first = int(opened["sources"][0][-1].split("-")[1])
    assert 60 <= first <= 90


def test_a_stall_without_a_session_four_weeks_ago_has_no_change_among_its_reasons(fallen: Trends) -> None:
    """All sessions of a rise may lie within four weeks of a bend; such a row once stopped the night."""
    unknown = fallen.points.with_columns(pl.lit(0.0001).alias("p_stall"), pl.lit(None, dtype=pl.Float64).alias("change_28"))
    assert stall_candidates(unknown, players_judged(unknown))["reasons"].list.len().max() == 0


def test_an_episode_that_ends_because_it_lasts_does_not_open_again_on_that_day(fallen: Trends) -> None:
    """The sum is still large on that day: a flag that opened on it stayed open, and what began later was told of no more."""
    said = of_kind(chart_candidates(fallen.points, players_judged(fallen.points)), "speed_fall", "p00")
    last = said.filter(pl.col("reasons").list.contains("closed:lasting"))
    assert last.height == 1
    assert last.select("opens", "holds").row(0) == (False, False)
    flags = flag_history(said, said["on_date"].max(), AlertPolicy()).flags  # type: ignore[arg-type] # a date column
    assert flags["closed_because"].to_list() == ["lasting"]


@pytest.mark.parametrize(("ended", "left", "because"), [
    ("lasting", 1.0, "lasting"), ("lasting", 0.3, "small"),
    ("back", 1.0, "not_clear"), ("back", 0.3, "back"), ("back", -2.0, "back"),
])  # fmt: skip
def test_how_a_flag_ends_is_said_by_where_the_level_lies(fallen: Trends, ended: str, left: float, because: str) -> None:
    """``left``: how far below the normal the level is when the episode ends, in changes that are worth the name."""
    last = (pl.col("ended") != "") & (pl.col("player_id") == "p00")
    points = fallen.points.with_columns(
        pl.when(last).then(pl.col("usual") - left * pl.col("worthwhile")).otherwise("level").alias("level"),
        pl.when(last).then(pl.lit(ended)).otherwise("ended").alias("ended"),
    )
    said = of_kind(chart_candidates(points, players_judged(points)), "speed_fall", "p00")
    assert said.filter(pl.col("reasons").list.contains(f"closed:{because}")).height == 1


def test_of_one_who_grows_a_small_change_and_a_stall_stay_notices(fallen: Trends) -> None:
    """A spurt, and growth that slows down after it, are no finding: an alert needs a loss of what was reached."""
    smaller = fallen.points.with_columns(pl.col("level") + 0.8)
    growing = smaller.with_columns(pl.lit(3.0).alias("growth"), pl.lit(0.0001).alias("p_stall"), pl.col("x") - 2.4)
    assert of_kind(chart_candidates(smaller, players_judged(smaller)), "speed_fall", "p00")["p_value"].min() < 0.0005  # type: ignore[operator]
    fall = of_kind(chart_candidates(growing, players_judged(growing)), "speed_fall", "p00")
    assert fall["opens"].any()
    assert fall["p_value"].min() >= LISTED_AT  # type: ignore[operator]
    stall = stall_candidates(growing, players_judged(growing))
    assert stall["opens"].any()
    assert stall["p_value"].min() >= LISTED_AT  # type: ignore[operator]


def of_wild_shots(share: np.ndarray, width: float = 1.0) -> pl.DataFrame:
    """Flags of the shares of wild shots of a squad, 20 shots a session; the first player's pattern as many times as wide."""
    rng, first = np.random.default_rng(9), (np.arange(share.shape[0]) == 0)[:, None] & (np.arange(share.shape[1]) >= 50)
    wide = 14.0 * np.where(first, width, 1.0).ravel()[:, None]
    offline = (
        np.where(rng.random((share.size, 20)) < share.ravel()[:, None], 4.0, 1.0) * wide * rng.standard_normal((share.size, 20))
    )
    off = np.abs(offline - np.median(offline, axis=1, keepdims=True))
    mad = np.median(off, axis=1)
    frame = summaries(5, *share.shape).with_columns(
        pl.Series("offline_m_mad", mad),
        pl.Series(
            "offline_m_far", [one[one > FAR_AT * MAD_TO_SD * middle].tolist() for one, middle in zip(off, mad, strict=True)]
        ),
        pl.Series("offline_m_wild_n", (off > 3.3 * MAD_TO_SD * mad[:, None]).sum(axis=1)),
        pl.Series("offline_m_log_mad", np.log(np.minimum(off, 3.5 * mad[:, None]).mean(axis=1))),
    )
    points = trends(frame).points
    said = chart_candidates(points, players_judged(points))
    return flag_history(said, frame["on_date"].max(), AlertPolicy(0.10, 1000)).flags  # type: ignore[arg-type] # dates, not empty


def test_wild_shots_that_become_five_times_as_many_are_an_alert_and_a_wider_pattern_is_none_of_them() -> None:
    share = np.full((N_PLAYERS, N_SESSIONS), 0.03)
    share[0, 50:] = 0.15
    flags = of_wild_shots(share)
    alerts = flags.filter(pl.col("kind") == "wild_rise", pl.col("alerted_on").is_not_null())
    assert alerts["player_id"].to_list() == ["p00"]
    row = alerts.row(0, named=True)
    assert 0 < (row["alerted_on"] - START).days - 2 * 50 <= 30
    assert row["metric"] == "wild_pct"
    assert not any(reason.startswith(("likely", "retest")) for reason in row["reasons"])  # its shots tell it, not the chart
    assert row["baseline"] == pytest.approx(3.0, abs=1.5)
    assert 6.0 < row["value"] < 20.0
    assert 0.0 <= row["low"] < row["value"] < row["high"]


def test_a_share_of_wild_shots_that_is_not_sure_is_drawn_toward_none() -> None:
    share = np.full((N_PLAYERS, N_SESSIONS), 0.03)
    share[0, 50:] = 0.09
    said = of_wild_shots(share).filter(pl.col("kind") == "wild_rise", pl.col("level") == "notice")
    drawn = [float(reason.partition("=")[2]) for row in said["reasons"] for reason in row if reason.startswith("likely=")]
    seen = (said["value"] - said["baseline"]).to_list()
    assert len(drawn) == said.height > 0
    assert all(0.0 <= one <= other for one, other in zip(drawn, seen, strict=True))


def test_a_pattern_twice_as_wide_is_wider_and_not_wilder() -> None:
    flags = of_wild_shots(np.full((N_PLAYERS, N_SESSIONS), 0.03), 2.0)
    assert "scatter_rise" in flags.filter(player_id="p00")["kind"]
    assert flags.filter(pl.col("kind") == "wild_rise", pl.col("alerted_on").is_not_null()).is_empty()


def test_the_chance_of_a_chart_is_the_mean_over_what_is_not_known_of_the_resemblance(fallen: Trends) -> None:
    points = fallen.points.filter(pl.col("chart_down") > 2.0)
    middle, error = points["correlation"].to_numpy(), points["correlation_error"].to_numpy()
    sides = (np.clip(middle + way * error, 0.0, MOST_RESEMBLANCE) for way in (-1.0, 1.0))
    expected = np.mean([chart_p_value(points["chart_down"].to_numpy(), SHARE_IN_SCORES * side) for side in sides], axis=0)
    np.testing.assert_allclose(points["p_chart_down"].to_numpy(), expected)
    assert (expected > chart_p_value(points["chart_down"].to_numpy(), SHARE_IN_SCORES * middle)).mean() > 0.9


def test_a_notice_needs_a_change_of_which_enough_is_likely_to_be_real(fallen: Trends) -> None:
    """The middle of a pattern "has moved" by 1.2 degrees, of which .1 was likely to be real, between 3.6 left and 1.3 right."""
    judged = players_judged(fallen.points)
    unsure = fallen.points.with_columns(pl.lit(8.0).alias("level_error"))
    assert of_kind(chart_candidates(fallen.points, judged), "speed_fall", "p00")["opens"].any()
    assert not of_kind(chart_candidates(unsure, judged), "speed_fall", "p00")["opens"].any()
