"""Rows of load and body, column by column, against loops over the arrays and over the days."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import replace
from typing import Any

import numpy as np
import polars as pl
import pytest
from scipy import stats

from pipelines.measures.body.fewer import FEWEST_USUAL, fewer_answers
from pipelines.measures.body.history import _answered_names
from pipelines.measures.body.items import ITEMS, body_items
from pipelines.measures.body.map import body_days, body_weeks
from pipelines.measures.flags.answer_rules import answer_candidates
from pipelines.measures.flags.body_rules import body_rises, ended, load_flats, load_jumps
from pipelines.measures.flags.pattern_rules import Judged, overuse_patterns, problem_reports, sleep_is_short, within_days
from pipelines.measures.load.grid import DayGrid, readings
from tests.unit.test_body_rules import FIRST, checkins, series, stiff_squad, usual
from tests.unit.test_pattern_rules import DAYS, GRID, NONE, forms, patterns, spoken
from tests.unit.test_pattern_rules import FIRST as FORM_FIRST

EMPTY = {"region": "", "club_group": "", "device_id": "", "p_value": None, "n_streams": None, "n_players": None}


def test_a_condition_has_ended_on_the_first_look_at_which_it_no_longer_holds() -> None:
    active = np.array([[1, 0, 0, 1, 0, 0, 0, 1]], dtype=bool)
    looked = np.array([[1, 0, 1, 1, 0, 0, 1, 1]], dtype=bool)
    assert ended(active, looked)[0].tolist() == [False, False, True, False, False, False, True, False]
    assert not ended(active[:, 1:3], looked[:, 1:3]).any()


@pytest.mark.parametrize(
    ("swings", "times", "size", "certain"),
    [(157, 157 / 120, "moderate", False), (240, 2.0, "moderate", False), (241, 241 / 120, "large", True), (400, 400 / 120,
    "large", True)],
)  # fmt: skip
def test_each_column_of_a_days_jump(swings: int, times: float, size: str, certain: bool) -> None:
    """120 is the largest day of the month before; less than forty more, or less than three tenths, is none."""
    rows = load_jumps(series([*usual(60), (60, swings), (61, 0)])).filter(pl.col("metric") == "day_swings").to_dicts()
    if swings - 120 < 40:
        assert rows == []
        return
    on = FIRST + dt.timedelta(days=60)
    head = EMPTY | {"player_id": "P1", "kind": "load_jump", "metric": "day_swings", "low": None, "high": None, "n": 28}
    assert rows[0] == head | {
        "on_date": on, "opens": True, "holds": True, "certain": certain, "strength": pytest.approx(times), "value": float(swings),
        "baseline": 120.0, "reasons": ["day_swings", f"class:{size}"], "sources": [f"load:{on}"],
    }  # fmt: skip
    assert rows[1] == head | {
        "on_date": on + dt.timedelta(days=1), "opens": False, "holds": False, "certain": False, "strength": 0.0, "value": 0.0,
        "baseline": float(swings), "reasons": ["day_swings", "class:none"], "sources": [f"load:{on + dt.timedelta(days=1)}"],
    }  # fmt: skip
    assert len(rows) == 2


def test_each_column_of_a_weeks_jump() -> None:
    days = [*usual(70), *((70 + day, swings) for day, swings in enumerate((150, 150, 150, 150, 150, 150)))]
    row = load_jumps(series(days)).filter(pl.col("metric") == "week_swings", "opens").sort("on_date").tail(1).row(0, named=True)
    done = dict(days)
    last = max(done)
    week = sum(done[day] or 0 for day in range(last - 6, last + 1))
    before = sum(done[day] or 0 for day in range(last - 34, last - 6)) / 4
    assert (row["value"], row["baseline"], row["strength"]) == (week, pytest.approx(before), pytest.approx(week / before))
    assert row["certain"] == (week > 2.0 * before and week > 1.5 * 420)
    assert (row["reasons"][0], row["n"]) == ("week_swings", 28)
    assert not any(reason.startswith("known=") for reason in row["reasons"])
    some = load_jumps(series([(day, None if day == last - 2 else swings) for day, swings in days]))
    told = some.filter(pl.col("metric") == "week_swings", pl.col("on_date") == row["on_date"]).row(0, named=True)
    assert "known=6" in told["reasons"]
    assert told["value"] == pytest.approx((week - 150) / 6 * 7)


def test_each_column_of_days_without_an_easy_one() -> None:
    rows = load_flats(series([*((day, 80) for day in range(15)), (15, 0)])).to_dicts()
    on = [FIRST + dt.timedelta(days=day) for day in (13, 14, 15)]
    head = EMPTY | {
        "player_id": "P1",
        "kind": "load_flat",
        "metric": "days_without_easy",
        "certain": True,
        "low": None,
        "high": None,
    }
    head |= {"baseline": 14.0, "n": None, "reasons": []}
    assert rows == [
        head | {"on_date": day, "opens": opens, "holds": opens, "strength": run, "value": run, "sources": [f"load:{day}"]}
        for day, opens, run in zip(on, (True, True, False), (14.0, 15.0, 0.0), strict=True)
    ]
    assert load_flats(series([*((day, 80) for day in range(14)), (15, 80)]))["value"].to_list() == [14.0, None]


@pytest.mark.parametrize(("name", "sign"), [("stiff_lower_back", 1.0), ("sleep_h", -1.0)])
def test_each_row_of_the_body_is_what_its_arrays_say(name: str, sign: float) -> None:
    value = stiff_squad()
    value[0, 110:122] += sign * 3
    value[1, 60:66] += sign * 2
    answered = np.random.default_rng(4).random(value.shape) < 0.8
    frame = checkins(value, answered, name)
    grid = DayGrid(tuple(f"P{number:02d}" for number in range(8)), FIRST, FIRST + dt.timedelta(days=149))
    item = next(body_items(frame, grid, (name,)))
    n_items, n_players = np.full(grid.shape, 2), np.arange(grid.n_days)
    found = {(row["player_id"], row["on_date"]): row for row in body_rises(item, grid, n_items, n_players).to_dicts()}
    above, told_by, wanted = item.above, item.held, set()
    for row, player in enumerate(grid.players):
        held = False
        for column in np.flatnonzero(above.score.known[row]):
            score, excess, p_value = (float(one.value[row, column]) for one in (above.score, above.excess, above.p_value))
            opens = 2 * p_value <= 5e-4 and excess >= 1.0
            holds = score >= 2.0 and excess >= 0.5
            if opens or holds or held or 2 * p_value <= 0.05:
                key = (player, grid.day(int(column)))
                wanted.add(key)
                told = sign * float(told_by.recent.value[row, column])
                beyond, spreads = float(told_by.excess.value[row, column]), float(told_by.score.value[row, column])
                away = 1.645 * beyond / spreads if spreads > 0 else 0.0
                assert found[key] == {
                    "player_id": player, "on_date": key[1], "kind": "body_stiff" if sign > 0 else "body_fatigue",
                    "metric": "" if sign > 0 else name, "region": "lower_back" if sign > 0 else "", "club_group": "",
                    "device_id": "",
                    "opens": opens, "holds": opens or holds, "certain": False, "p_value": pytest.approx(p_value), "n_streams": 2,
                    "n_players": int(column), "strength": pytest.approx(score), "value": pytest.approx(told),
                    "baseline": pytest.approx(sign * float(item.normal.mean.value[row, column])),
                    "low": pytest.approx(told - away), "high": pytest.approx(told + away), "n": int(item.normal.n[row, column]),
                    "reasons": [f"answers:{above.n_answers[row, column]}"], "sources": [f"checkin:{key[1]}"],
                }  # fmt: skip
            held = opens or holds
    assert set(found) == wanted
    assert sum(row["opens"] for row in found.values()) > 3


@pytest.mark.parametrize(("p_value", "listed"), [(0.025, True), (np.nextafter(0.025, 1.0), False)])
def test_an_answer_is_among_the_tests_of_a_night_up_to_the_limit_itself(p_value: float, listed: bool) -> None:
    """Two items asked, so twice the chance: .05 is listed, more is not; nothing opens or holds."""
    value = stiff_squad()
    grid = DayGrid(tuple(f"P{number:02d}" for number in range(8)), FIRST, FIRST + dt.timedelta(days=149))
    item = next(body_items(checkins(value, np.ones(value.shape, dtype=bool)), grid, ("stiff_lower_back",)))
    known = item.above.score.known
    calm = replace(
        item.above,
        score=readings(np.ones(known.shape), known),
        excess=readings(np.full(known.shape, 0.2), known),
        p_value=readings(np.full(known.shape, p_value), known),
    )
    rows = body_rises(replace(item, above=calm, held=calm), grid, np.full(grid.shape, 2), np.ones(grid.n_days))
    assert (rows.height == known.sum()) == listed
    assert listed or rows.is_empty()


def test_of_an_item_that_nobody_answers_nothing_is_found() -> None:
    """So a night leaves it out; sleep stays, for a column is made of it."""
    value = stiff_squad()
    grid = DayGrid(tuple(f"P{number:02d}" for number in range(8)), FIRST, FIRST + dt.timedelta(days=149))
    told = checkins(value, np.ones(value.shape, dtype=bool)).with_columns(
        stiff_neck=pl.lit(None, dtype=pl.Float64), **{name: pl.lit(None) for name in ITEMS if not name.startswith("stiff")}
    )
    item = next(body_items(told, grid, ("stiff_neck",)))
    assert body_days(item, grid, 0).is_empty()
    assert body_weeks(item, grid).is_empty()
    assert body_rises(item, grid, np.full(grid.shape, 2), np.ones(grid.n_days)).is_empty()
    asked = [name for name in ITEMS if name in told.columns]
    assert _answered_names(told.with_columns(pl.lit(None).alias(name) for name in ITEMS if name not in asked)) == [
        "sleep_h",
        "stiff_lower_back",
    ]


def test_each_column_of_a_form() -> None:
    rows = problem_reports(forms((0, "neck", 1, 1), (1, "neck", 1, 1), (2, "neck", 1, 2), (3, "other", 0, 0), (4, "neck", 1, 1)))
    weeks = [FORM_FIRST + dt.timedelta(weeks=week) for week in range(5)]
    scores, runs = (32.0, 32.0, 41.0, None, 32.0), (1, 2, 3, 0, 1)
    why = (["onset:gradual"], ["onset:gradual"], ["substantial", "stays", "onset:gradual"], [], ["onset:gradual"])
    opens = (False, False, True, False, False)
    assert rows.to_dicts() == [
        EMPTY | {
            "player_id": "P1", "on_date": week, "kind": "problem_report", "metric": "", "region": "neck", "opens": open_,
            "holds": run > 0,
            "certain": run == 3, "strength": pytest.approx((score or 0.0) / 10.0), "value": score, "baseline": None,
            "low": None, "high": None,
            "n": rows["n"][at], "reasons": reasons, "sources": [f"problem:{week}"],
        }
        for at, (week, score, run, reasons, open_) in enumerate(zip(weeks, scores, runs, why, opens, strict=True))
    ]  # fmt: skip
    assert [n for n, run in zip(rows["n"], runs, strict=True) if run] == [1, 2, 3, 1]


def test_an_event_counts_for_so_many_days() -> None:
    event = np.array([[0, 1, 0, 0, 1, 0, 0, 0]], dtype=bool)
    assert within_days(event, 2)[0].tolist() == [False, True, True, False, True, True, False, False]


@pytest.mark.parametrize(
    ("hours", "normal", "short"),
    [(6.99, 7.75, True), (7.0, 8.0, False), (6.9, 7.66, True), (6.9, 7.64, False), (6.9, None, None), (None, 8.0, None)],
)
def test_what_short_sleep_is(hours: float | None, normal: float | None, short: bool | None) -> None:
    """Hours stand negative, so that worse is higher."""
    week = np.full((1, 7), -(hours or 0.0))
    answers = readings(week, np.full((1, 7), hours is not None))
    mean = readings(np.full((1, 7), -(normal or 0.0)), np.full((1, 7), normal is not None))
    item: Any = type("Item", (), {"answers": answers, "normal": type("Normal", (), {"mean": mean})})
    found, judged = sleep_is_short(item)
    assert (bool(found[0, -1]), bool(judged[0, -1])) == (short is True, short is not None)
    assert not judged[0, 2]  # three nights are too few


def nights(rows: pl.DataFrame) -> list[int]:
    return [(day - FORM_FIRST).days for day in rows.filter("opens")["on_date"]]


def test_how_long_each_sign_counts() -> None:
    jumps = spoken("load_jump", *range(30, 110))
    assert nights(patterns(jumps, NONE, spoken("speed_fall", 60))) == list(range(60, 81))
    assert nights(patterns(jumps, spoken("body_stiff", 60, region="neck"), NONE)) == list(range(60, 67))
    held = spoken("speed_fall", 40), spoken("speed_fall", 55, 70, opens=False)
    assert nights(patterns(jumps, NONE, pl.concat(held))) == list(range(40, 91))
    broken = spoken("speed_fall", 40), spoken("speed_fall", 62, opens=False)
    assert nights(patterns(jumps, NONE, pl.concat(broken))) == list(range(40, 61))


def test_each_column_of_signs_together() -> None:
    everywhere = np.ones(GRID.shape, dtype=bool)
    sleep: Any = type("Item", (), {"answers": readings(np.zeros(GRID.shape), ~everywhere), "normal": type("Normal", (), {
        "mean": readings(np.zeros(GRID.shape), ~everywhere)})})  # fmt: skip
    stiff = pl.concat([spoken("body_stiff", 62, region="neck"), spoken("body_stiff", 62, region="hip")])
    rows = overuse_patterns(
        GRID, spoken("load_jump", 60), stiff, spoken("speed_fall", 65), sleep, Judged(~everywhere, everywhere)
    )
    first = rows.filter(pl.col("region") == "neck").row(0, named=True)
    on = FORM_FIRST + dt.timedelta(days=62)
    assert first == EMPTY | {
        "player_id": "P1", "on_date": on, "kind": "overuse_pattern", "metric": "", "region": "neck", "opens": True, "holds": True,
        "certain": True, "strength": 2.0, "value": 2.0, "baseline": None, "low": None, "high": None, "n": 2,
        "reasons": ["load_up", "region_stiff", "missing:load", "missing:sleep"], "sources": [f"checkin:{on}"],
    }  # fmt: skip
    by_region = {region: rows.filter(pl.col("region") == region).select("n", "certain").rows() for region in ("hip", "")}
    assert by_region["hip"] == [(2, True)] * 3 + [(3, True)] * 4 + [(2, False)]
    assert by_region[""] == [(2, False)] * 5 + [(1, False)]
    quiet = overuse_patterns(GRID, NONE, spoken("body_stiff", 62, region="neck"), spoken("speed_fall", 65), sleep,
                             Judged(everywhere, everywhere))  # fmt: skip
    assert set(quiet.filter("opens").select("n", "certain").rows()) == {(2, False)}
    assert GRID.n_days == DAYS


def test_each_row_of_fewer_answers_is_what_its_arrays_say() -> None:
    rng = np.random.default_rng(12)
    shares = np.full((20, 160), 0.72)
    shares[0, 100:110], shares[1, 120:] = 0.0, 0.1
    answered, practised = rng.random(shares.shape) < shares, rng.random(shares.shape) < 0.4
    grid = DayGrid(tuple(f"p{number:02d}" for number in range(20)), FIRST, FIRST + dt.timedelta(days=159))
    found, rows = fewer_answers(answered, practised), answer_candidates(answered, practised, grid)
    said = {(row["player_id"], row["on_date"]): row for row in rows.to_dicts()}
    wanted = set()
    for row, player in enumerate(grid.players):
        held = False
        for column in np.flatnonzero(found.p_value.known[row]):
            p_value = float(found.p_value.value[row, column])
            if p_value <= 0.05 or held:
                key = (player, grid.day(int(column)))
                wanted.add(key)
                assert said[key] == EMPTY | {
                    "player_id": player, "on_date": key[1], "kind": "answers_fewer", "metric": "", "opens": p_value <= 0.0005,
                    "holds": p_value <= 0.05, "certain": False, "p_value": pytest.approx(p_value), "low": None, "high": None,
                    "n_players": int(found.p_value.known[:, column].sum()),
                    "strength": pytest.approx(-math.log10(max(p_value, 1e-12))), "value": float(answered[row,
                    column - 13 : column + 1].sum()),
                    "baseline": pytest.approx(float(found.usual.value[row, column])), "n": int(found.n_usual[row, column]),
                    "reasons": [], "sources": [],
                }  # fmt: skip
            held = p_value <= 0.05
    assert set(said) == wanted
    assert any(row["opens"] for row in said.values())


def test_what_is_usual_of_answers_day_by_day() -> None:
    """A loop over the days: asked are days from the first answer on, on which anybody answered."""
    rng = np.random.default_rng(9)
    answered, practised = rng.random((6, 130)) < 0.6, rng.random((6, 130)) < 0.4
    answered[:, 40:46], answered[2, :50], answered[3] = False, False, rng.random(130) < 0.28
    practised[4, 100:], practised[5, 90:] = False, practised[5, 90:] & (rng.random(40) < 0.5)
    found = fewer_answers(answered, practised)
    outcomes = set()
    for row in range(6):
        begun = int(np.argmax(answered[row]))
        asked = [day for day in range(begun, 130) if answered[:, day].any()]
        for day in range(130):
            recent, before = range(day - 13, day + 1), range(day - 83, day - 13)
            n, n_before = (sum(one in days for one in asked) for days in (recent, before))
            x, x_before = (sum(bool(answered[row, one]) for one in days if one >= 0) for days in (recent, before))
            share = (x_before + 0.5) / (n_before + 1)
            known = n >= 7 and n_before >= FEWEST_USUAL and share >= 0.3
            assert found.p_value.known[row, day] == known
            if known:
                trained, usual_of_it = (sum(bool(practised[row, one]) for one in days if one >= 0) for days in (recent, before))
                goes_on = trained >= 2 and trained >= 0.5 * usual_of_it * 14 / 70
                weight = min(n_before, 40)
                chance = stats.betabinom.cdf(x, n, share * weight, (1 - share) * weight) if goes_on else 1.0
                assert found.p_value.value[row, day] == pytest.approx(chance)
                assert (found.n_answers.value[row, day], found.n_usual[row, day]) == (x, n_before)
                assert found.usual.value[row, day] == pytest.approx(share * n)
                outcomes.add(goes_on)
            elif n >= 7 and n_before >= FEWEST_USUAL:
                outcomes.add("seldom")
    assert outcomes == {True, False, "seldom"}
