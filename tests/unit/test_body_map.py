"""Days and weeks of the body map against plain loops over the answers."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from pipelines.measures.body.items import BodyItem, body_items, display_percentile
from pipelines.measures.body.map import ABOVE_EXCESS, ABOVE_SCORE, body_days, body_weeks
from pipelines.measures.load.grid import DayGrid, day_grid

FIRST = dt.date(2026, 1, 1)  # a Thursday
N_DAYS = 90


def told(name: str, base: float, jump: float) -> tuple[BodyItem, DayGrid, dict[tuple[str, dt.date], float]]:
    rng = np.random.default_rng(8)
    answers = {
        (player, FIRST + dt.timedelta(days=day)): float(
            np.round(np.clip(rng.normal(base, 0.8) + (jump if day > 70 else 0), 0, 12))
        )
        for player in ("P1", "P2")
        for day in range(N_DAYS)
        if rng.random() < (0.8 if player == "P1" else 0.25)
    }
    rows = [{"player_id": player, "on_date": day, name: value} for (player, day), value in answers.items()]
    frame = pl.DataFrame(rows)
    grid = day_grid(frame["player_id"], FIRST, FIRST + dt.timedelta(days=N_DAYS - 1))
    return next(iter(body_items(frame, grid, (name,)))), grid, answers


@pytest.mark.parametrize(("name", "base", "jump"), [("stiff_lower_back", 2.0, 5.0), ("sleep_h", 8.0, -3.0)])
def test_each_day_is_the_answer_beside_what_is_known_of_it(name: str, base: float, jump: float) -> None:
    item, grid, answers = told(name, base, jump)
    first = 30
    found = body_days(item, grid, first)
    wanted = sorted(key for key in answers if (key[1] - FIRST).days >= first)
    assert found.select("player_id", "on_date").rows() == wanted
    sign = -1.0 if name == "sleep_h" else 1.0
    region = "lower_back" if name == "stiff_lower_back" else ""
    seen = set()
    percentile = display_percentile(item.answers, first)
    for row in found.iter_rows(named=True):
        at = (grid.players.index(row["player_id"]), (row["on_date"] - FIRST).days)
        assert (row["item"], row["region"]) == (name, region)
        assert row["answer"] == answers[row["player_id"], row["on_date"]]
        assert row["percentile"] == (pytest.approx(percentile.value[at]) if percentile.known[at] else None)
        normal = sign * item.normal.mean.value[at] if item.normal.mean.known[at] else None
        assert row["normal"] == (None if normal is None else pytest.approx(normal))
        assert row["normal_spread"] == (None if normal is None else pytest.approx(item.normal.spread[at]))
        assert row["n_normal"] == int(item.normal.n[at])
        is_recent = item.held.recent.known[at]
        assert row["recent"] == (pytest.approx(sign * item.held.recent.value[at]) if is_recent else None)
        assert row["n_recent"] == (int(item.held.n_answers[at]) if is_recent else None)
        assert row["score"] == (pytest.approx(item.held.score.value[at]) if item.held.score.known[at] else None)
        assert row["p_value"] == (pytest.approx(item.above.p_value.value[at]) if item.above.p_value.known[at] else None)
        assert row["reason"] == ("learning_normal" if normal is None else "" if is_recent else "too_few_recent")
        seen.add(row["reason"])
    assert "" in seen
    assert "learning_normal" in seen


@pytest.mark.parametrize(("name", "base", "jump"), [("stiff_lower_back", 2.0, 5.0), ("sleep_h", 8.0, -3.0)])
def test_each_week_is_what_a_loop_over_its_days_finds(name: str, base: float, jump: float) -> None:
    item, grid, answers = told(name, base, jump)
    sign = -1.0 if name == "sleep_h" else 1.0
    worst_of = min if name == "sleep_h" else max
    weeks: dict[tuple[str, dt.date], list[dt.date]] = {}
    for player, day in sorted(answers):
        weeks.setdefault((player, day - dt.timedelta(days=day.weekday())), []).append(day)
    found = body_weeks(item, grid)
    assert found.columns[2:4] == ["item", "region"]
    assert sorted(found.select("player_id", "week_starting").rows()) == sorted(weeks)
    assert found["n_days_above"].sum() > 0
    for row in found.iter_rows(named=True):
        player, monday = row["player_id"], row["week_starting"]
        own = [answers[player, day] for day in weeks[player, monday]]
        places = [(grid.players.index(player), (day - FIRST).days) for day in weeks[player, monday]]
        normals = [sign * item.normal.mean.value[at] for at in places if item.normal.mean.known[at]]
        whole_week = [
            (places[0][0], (monday + dt.timedelta(days=day) - FIRST).days)
            for day in range(7)
            if 0 <= (monday + dt.timedelta(days=day) - FIRST).days < N_DAYS
        ]
        above = [
            at
            for at in whole_week
            if item.held.score.known[at]
            and item.held.score.value[at] >= ABOVE_SCORE
            and item.held.excess.value[at] >= ABOVE_EXCESS
        ]
        assert (row["item"], row["region"]) == (name, item.region)
        assert (row["n_answers"], row["n_days_above"]) == (len(own), len(above))
        assert row["mean_answer"] == pytest.approx(np.mean(own))
        assert row["worst_answer"] == worst_of(own)
        assert row["normal"] == (pytest.approx(np.mean(normals)) if normals else None)


def test_an_answer_after_weeks_of_silence_is_too_few_recent_ones() -> None:
    days = [*range(50), 80]
    frame = pl.DataFrame({"player_id": "P1", "on_date": [FIRST + dt.timedelta(days=day) for day in days], "stiff_neck": 2.0})
    grid = day_grid(frame["player_id"], FIRST, FIRST + dt.timedelta(days=N_DAYS - 1))
    last = body_days(next(iter(body_items(frame, grid, ("stiff_neck",)))), grid, 0).row(-1, named=True)
    assert last["normal"] == pytest.approx(2.0)
    assert (last["recent"], last["n_recent"], last["reason"]) == (None, None, "too_few_recent")
