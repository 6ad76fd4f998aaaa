from __future__ import annotations

from datetime import date

import numpy as np
import polars as pl
import pytest

from pipelines.measures.baseline.levels import baselines
from pipelines.measures.flags.chart_rules import players_judged
from pipelines.measures.shift.run import Shift
from pipelines.measures.trend.assembly import LEARNING_SESSIONS, followed_rows, in_natural_units, plain_rows, trends
from pipelines.measures.trend.expected import EXPECTED
from pipelines.measures.trend.grid import standard_grid
from pipelines.measures.trend.points import trend_history
from pipelines.measures.trend.runs import HISTORY_DAYS, JUMP_VARIANCE, with_jumps
from pipelines.measures.trend.series import SeriesBatch
from pipelines.stages.measure.trends import trends_by_player
from pipelines.stages.stale import ASKED, Read
from schemas.core.flags import CANDIDATE
from schemas.core.summaries import SESSION_CLUB
from schemas.core.trends import SHIFT, TREND_POINT, TREND_STATE
from tests.unit.trend_world import summaries


def test_every_observation_is_a_point_with_the_columns_of_the_table() -> None:
    points = in_natural_units(trends(summaries(1, 3, 20)).points)
    assert set(points.columns) == set(TREND_POINT.names)
    assert points.group_by("metric").len()["len"].unique().to_list() == [60]
    required = [column.name for column in TREND_POINT.columns if column.required]
    assert points.select(required).null_count().sum_horizontal()[0] == 0


def test_the_level_follows_a_confirmed_shift_faster_than_without_dating() -> None:
    share = np.zeros((8, 70))
    share[0, 40:] = -0.04
    result = trends(summaries(2, 8, 70, speed_share=share))
    speed = result.points.filter(pl.col("metric") == "club_speed_mps", pl.col("player_id") == "p00")
    shift = result.shifts.filter(pl.col("metric") == "club_speed_mps", pl.col("player_id") == "p00").row(0, named=True)
    assert not shift["upward"]
    onset = speed["on_date"][40]
    assert abs((shift["began_on"] - onset).days) <= 6
    after = speed.filter(pl.col("on_date") >= shift["found_on"])
    assert abs(after["level"][3] - speed["x"][40:].mean()) < 0.8


def test_learning_until_there_are_eight_sessions() -> None:
    points = trends(summaries(3, 3, 12)).points.filter(pl.col("metric") == "club_speed_mps", pl.col("player_id") == "p01")
    assert points["state"].to_list()[:8] == ["learning"] * 8
    assert "learning" not in points["state"].to_list()[8:]


def test_another_device_of_one_player_begins_its_own_series() -> None:
    device = np.full((6, 40), "bay-1", dtype=object)
    device[0, 20:] = "bay-9"
    share = np.zeros((6, 40))
    share[0, 20:] = 0.015
    points = trends(summaries(4, 6, 40, device=device.astype(str), speed_share=share)).points
    own = points.filter(pl.col("player_id") == "p00", pl.col("metric") == "club_speed_mps").sort("on_date")
    assert set(own["series"][:18]) <= {"", "bay-1"}
    assert own["series"].to_list()[20:] == ["bay-9"] * 20
    assert own["chart_up"][20] == 0.0


def test_no_summaries_give_empty_results() -> None:
    result = trends(pl.DataFrame(schema=SESSION_CLUB.polars_schema()))
    assert in_natural_units(result.points).is_empty()
    assert result.shifts.is_empty()
    assert result.norms.is_empty()


@pytest.fixture(scope="module")
def there_and_back() -> tuple[pl.DataFrame, ...]:
    """Sessions of five players over five months; one falls by a twentieth for six weeks, one rises and stops."""
    share = np.zeros((5, 75))
    share[0, 30:50] = -0.05
    share[1] = 0.06 * np.minimum(np.arange(75), 45) / 45
    return trends(summaries(5, 5, 75, speed_share=share)).parts


def together(parts: tuple[pl.DataFrame, ...]) -> pl.DataFrame:
    return pl.concat(parts, how="diagonal")


def told_of(parts: tuple[pl.DataFrame, ...], since: date, shifts: pl.DataFrame, kept: pl.DataFrame) -> dict[str, pl.DataFrame]:
    """What the stage writes of the months from a day on, where these shifts and states stand."""
    apart = trends_by_player(parts)
    dated, tested = apart.reads["rows"], apart.reads["tested"]
    assert not isinstance(dated, Read)
    rows = together(tuple(dated))
    months = rows.select(apart.by).unique().filter(pl.col("month_on") >= since)
    return dict(apart.measure({"rows": rows, "tested": tested, ASKED: months, "found": shifts, "kept": kept}))  # type: ignore[dict-item]


def test_rows_of_the_squad_hold_few_texts_as_categories_and_no_course_where_there_is_none(
    there_and_back: tuple[pl.DataFrame, ...],
) -> None:
    for part in there_and_back:
        if part.is_empty():
            continue
        repeated = {name for name, kind in part.schema.items() if kind == pl.Categorical}
        of_shares = {"usual_shares"} if part["metric"][0] == "wild_pct" else set()
        assert repeated == {"metric", "club_group", "club", "series", "device_id"} | of_shares
        assert ("growth" in part.columns) == (part["metric"][0] in EXPECTED)
    rows = together(there_and_back)
    plain = plain_rows(rows)
    assert pl.Categorical not in plain.dtypes
    of_shares = pl.selectors.by_name("median_off_m", "far_off_m", "ratio_n", "lost_side", "usual_shares")
    assert plain.select(~of_shares).null_count().sum_horizontal()[0] == 0
    levels = (baselines(one, date(2026, 5, 1), LEARNING_SESSIONS) for one in (rows, plain))
    assert next(levels).equals(next(levels))
    assert players_judged(rows).equals(players_judged(plain))


def test_what_is_told_of_the_last_months_alone_is_what_is_told_of_them_among_all(
    there_and_back: tuple[pl.DataFrame, ...],
) -> None:
    nothing = pl.DataFrame(schema=TREND_STATE.polars_schema())
    whole = told_of(there_and_back, date(2026, 1, 1), pl.DataFrame(schema=SHIFT.polars_schema()), nothing)
    assert {"speed_fall", "speed_rise"} <= set(whole[CANDIDATE.name]["kind"])
    assert whole[SHIFT.name].height > 1
    for since in (date(2026, month, 1) for month in range(2, 7)):
        until = tuple(part.filter(pl.col("on_date") < since) for part in there_and_back)
        kept = told_of(until, date(2026, 1, 1), pl.DataFrame(schema=SHIFT.polars_schema()), nothing)[TREND_STATE.name]
        assert kept.is_empty() == (since <= date(2026, 2, 1)), "a state leads to the end of the last month but one"
        alone = told_of(there_and_back, since, whole[SHIFT.name].select(SHIFT.names), kept)
        for table, day in ((TREND_POINT, "on_date"), (SHIFT, "found_on"), (CANDIDATE, "on_date")):
            of_all = whole[table.name].filter(pl.col(day) >= since).sort(table.grain)
            assert alone[table.name].sort(table.grain).equals(of_all), (table.name, since)


def test_only_series_with_a_session_that_is_asked_for_are_followed(there_and_back: tuple[pl.DataFrame, ...]) -> None:
    rows = plain_rows(together(there_and_back))
    last = rows.filter(pl.col("player_id") == "p02")["session_id"].max()
    points = followed_rows(rows.with_columns(asked=pl.col("session_id") == last)).points
    assert set(points["player_id"]) == {"p02"}
    assert points.group_by("metric").len()["len"].unique().to_list() == [2], "the one asked for, and the one before it"


def test_a_jump_moves_the_levels_that_lead_to_a_point_as_it_moves_the_points() -> None:
    n, rng = 50, np.random.default_rng(6)
    values = np.where(np.arange(n) < 30, 0.0, -5.0)[:, None] + 0.5 * rng.standard_normal((n, 1))
    batch = SeriesBatch(3.0 * np.arange(n)[:, None], values, 0.05 * np.ones((n, 1)), np.zeros((n, 1)), np.array([n]))
    shifts = (Shift(0, 33, 30, upward=False),)
    points, levels, _ = with_jumps(batch, np.ones((n, 1)), np.array([0]), shifts)
    np.testing.assert_allclose(levels[:, 0], points.level, atol=1e-9)
    plain = with_jumps(batch, np.ones((n, 1)), np.array([0]), ())[1]
    assert np.abs(levels - plain)[33:].max() > 0.01
    late, same, _ = with_jumps(batch, np.ones((n, 1)), np.array([40]), shifts)
    np.testing.assert_array_equal(late.level, points.level[40:])
    np.testing.assert_array_equal(same, levels)


def test_each_session_is_told_by_the_run_of_the_last_shift_confirmed_by_then() -> None:
    """Runs that end where the next shift is confirmed, beside each shift's run filtered on to the last session."""
    n, rng = 90, np.random.default_rng(7)
    values = np.select([np.arange(n) < 30, np.arange(n) < 60], [0.0, -5.0], 2.0)[:, None] + 0.5 * rng.standard_normal((n, 1))
    batch = SeriesBatch(3.0 * np.arange(n)[:, None], values, 0.05 * np.ones((n, 1)), np.zeros((n, 1)), np.array([n]))
    fall, rise = Shift(0, 33, 30, upward=False), Shift(0, 64, 60, upward=True)
    ones, whole = np.ones((n, 1)), np.array([0])
    both, levels, _ = with_jumps(batch, ones, whole, (fall, rise))
    one, fallen, _ = with_jumps(batch, ones, whole, (fall,))
    jumps = np.zeros((n, 1))
    jumps[[30, 60]] = JUMP_VARIANCE
    begin = 60 - int(HISTORY_DAYS / 3.0)
    again = SeriesBatch(
        *(array[begin:] for array in (batch.days, batch.values, batch.noise_variance, jumps)), np.array([n - begin])
    )
    risen, *_ = trend_history(again, ones[begin:], standard_grid())
    np.testing.assert_array_equal(both.level, np.concatenate([one.level[:64], risen.level[64 - begin :]]))
    np.testing.assert_array_equal(both.change_sd, np.concatenate([one.change_sd[:64], risen.change_sd[64 - begin :]]))
    np.testing.assert_array_equal(levels[:64], fallen[:64])
    assert both.steps.tolist() == list(range(n))
