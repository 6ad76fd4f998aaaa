from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest
from scipy import stats

from pipelines.measures.body.fewer import MOST_WEIGHT, fewer_answers
from pipelines.measures.flags.answer_rules import answer_candidates
from pipelines.measures.flags.engine import flag_history
from pipelines.measures.load.grid import DayGrid

DAYS, FIRST = 160, dt.date(2026, 1, 5)


def squad(seed: int, shares: np.ndarray, practice: float = 0.4) -> tuple[np.ndarray, np.ndarray]:
    """Days with an answer and with practice of players whose share of answered days is given by day."""
    rng = np.random.default_rng(seed)
    return rng.random(shares.shape) < shares, rng.random(shares.shape) < practice


def grid(n: int) -> DayGrid:
    return DayGrid(tuple(f"p{number:03d}" for number in range(n)), FIRST, FIRST + dt.timedelta(days=DAYS - 1))


def test_the_chance_is_that_of_a_beta_binomial() -> None:
    answered, practised = squad(1, np.full((12, DAYS), 0.7))
    answered[0, -14:] = False
    found = fewer_answers(answered, practised)
    earlier, x = answered[1, -84:-14].sum(), answered[1, -14:].sum()
    share = (earlier + 0.5) / 71.0
    expected = stats.betabinom.cdf(x, 14, share * MOST_WEIGHT, (1 - share) * MOST_WEIGHT)
    assert found.p_value.value[1, -1] == pytest.approx(expected, rel=1e-9)
    assert found.usual.value[1, -1] == pytest.approx(14 * share)


def test_one_who_falls_silent_while_practice_goes_on_is_flagged_and_one_who_answers_is_not() -> None:
    shares = np.full((40, DAYS), 0.72)
    shares[0, 100:], shares[1, 100:] = 0.0, 0.23
    answered, practised = squad(2, shares)
    flags = flag_history(answer_candidates(answered, practised, grid(40)), FIRST + dt.timedelta(days=DAYS - 1)).flags
    assert set(flags["player_id"]) == {"p000", "p001"}
    assert set(flags["level"]) == {"alert"}
    assert flags["raised_on"].min() <= FIRST + dt.timedelta(days=112)  # type: ignore[operator] # a date column


def test_away_from_practice_a_silence_is_none() -> None:
    shares = np.full((20, DAYS), 0.72)
    shares[0, 100:] = 0.0
    answered, practised = squad(3, shares)
    practised[0, 98:] = False
    assert answer_candidates(answered, practised, grid(20)).filter(player_id="p000", opens=True).is_empty()


def test_days_on_which_nobody_answered_tell_of_files_not_of_players() -> None:
    answered, practised = squad(4, np.full((20, DAYS), 0.72))
    answered[:, -10:] = False
    late = FIRST + dt.timedelta(days=DAYS - 10)
    assert answer_candidates(answered, practised, grid(20)).filter(pl.col("on_date") >= late, "opens").is_empty()
    answered[1:, -10:] = practised[1:, -10:]
    one = answer_candidates(answered, practised, grid(20)).filter(pl.col("on_date") >= late, "opens")
    assert set(one["player_id"]) == {"p000"}


def test_who_seldom_answers_is_not_followed_and_chance_opens_little() -> None:
    answered, practised = squad(5, np.full((200, DAYS), 0.6))
    answered[:100] &= np.random.default_rng(6).random((100, DAYS)) < 0.3
    rows = answer_candidates(answered, practised, grid(200)).filter(opens=True)
    assert rows["player_id"].n_unique() <= 4
