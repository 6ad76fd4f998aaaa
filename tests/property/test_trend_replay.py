"""What was said of a night stays said: a prefix of the data gives the same points, candidates and flags up to its end."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest
from polars.testing import assert_frame_equal

from pipelines.measures.flags.chart_rules import chart_candidates, players_judged, stall_candidates
from pipelines.measures.flags.device_rules import device_candidates
from pipelines.measures.flags.engine import FlagHistory, flag_history
from pipelines.measures.flags.history import flags_as_of
from pipelines.measures.trend.assembly import Trends, trends
from tests.unit.trend_world import START, summaries

N_PLAYERS, N_SESSIONS, END = 8, 90, START + dt.timedelta(days=180)


def squad() -> pl.DataFrame:
    share = np.zeros((N_PLAYERS, N_SESSIONS))
    share[0, 45:] = -0.03
    share[1] = 0.04 * np.clip((np.arange(N_SESSIONS) - 20) / 30.0, 0.0, 1.0)
    device = np.where(np.random.default_rng(5).random(share.shape) < 0.5, "bay-1", "bay-2")
    share[:, 70:] += np.where(device[:, 70:] == "bay-2", 0.02, 0.0)
    return summaries(6, N_PLAYERS, N_SESSIONS, speed_share=share, device=device)


def history(result: Trends, until: dt.date) -> FlagHistory:
    said = [
        chart_candidates(result.points, players_judged(result.points)),
        stall_candidates(result.points, players_judged(result.points)),
        device_candidates(result.device_shifts),
    ]
    return flag_history(pl.concat(said), until)


@pytest.fixture(scope="module")
def rows() -> pl.DataFrame:
    return squad()


@pytest.fixture(scope="module")
def whole(rows: pl.DataFrame) -> Trends:
    return trends(rows)


@pytest.fixture(scope="module")
def flags(whole: Trends) -> FlagHistory:
    return history(whole, END)


def test_there_is_something_to_replay(flags: FlagHistory) -> None:
    assert {"speed_fall", "speed_rise", "device_shift"} <= set(flags.flags["kind"])


@pytest.mark.parametrize("days", [40, 95, 110, 146, 160])
def test_a_prefix_gives_the_same(rows: pl.DataFrame, whole: Trends, flags: FlagHistory, days: int) -> None:
    night = START + dt.timedelta(days=days)
    short = trends(rows.filter(pl.col("on_date") <= night))
    key = ["metric", "player_id", "club_group", "session_id"]
    kept = whole.points.filter(pl.col("on_date") <= night)
    assert_frame_equal(short.points.sort(key), kept.sort(key), rel_tol=1e-9, abs_tol=1e-9)
    replayed = history(short, night)
    then = flags_as_of(flags.flags, flags.events, night)
    assert_frame_equal(replayed.flags, then, rel_tol=1e-9, abs_tol=1e-9)
