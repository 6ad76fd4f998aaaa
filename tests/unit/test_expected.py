from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest

from pipelines.measures.trend.expected import age_class, expected_course
from pipelines.measures.trend.season import of_season, seasons

START = dt.date(2024, 1, 1)


def sessions(seed: int, n_players: int, n_days: int, a_year: float, season: float) -> pl.DataFrame:
    """Every fourth day; growth a year and half the difference between summer and winter [%]."""
    rng = np.random.default_rng(seed)
    day = np.arange(0, n_days, 4)
    parts = []
    for player in range(n_players):
        x = 380.0 + a_year * day / 365.25 - season * np.cos(2 * np.pi * day / 365.25) + 0.8 * rng.standard_normal(day.size)
        dates = [START + dt.timedelta(days=int(one)) for one in day]
        parts.append(pl.DataFrame({"player_id": f"p{player:02d}", "on_date": dates, "x": x}))
    quarter = pl.col("on_date").dt.truncate("1q").alias("from_on")
    return pl.concat(parts).with_columns(quarter, club_group=pl.lit("driver"), club=pl.lit("driver"), variance=pl.lit(0.64))


def gained(rows: pl.DataFrame, course: pl.Series, first: dt.date, last: dt.date) -> float:
    """Mean expected gain of the squad between two days."""
    told = rows.with_columns(course.alias("course"))
    start, end = (told.filter((pl.col("on_date") - on).abs() <= dt.timedelta(days=2)) for on in (first, last))
    return float(end["course"].mean() - start["course"].mean())  # type: ignore[operator]


def test_what_a_squad_of_juniors_gains_is_expected_of_them() -> None:
    rows = sessions(1, 12, 700, 4.0, 0.0)
    course = expected_course(rows, {f"p{n:02d}": 2010 for n in range(12)}, 1.0)["expected"]
    assert gained(rows, course, dt.date(2025, 1, 2), dt.date(2025, 11, 28)) == pytest.approx(4.0 * 330 / 365.25, abs=0.6)


def test_of_adults_nothing_is_expected_before_their_data_say_so() -> None:
    rows = sessions(2, 12, 80, 0.0, 0.0)
    assert expected_course(rows, {}, 1.0)["expected"].abs().max() < 0.1  # type: ignore[operator]


def test_a_season_is_expected_when_a_year_is_there_and_not_before() -> None:
    rows = sessions(3, 12, 700, 0.0, 1.2)
    course = expected_course(rows, {}, 1.0)["expected"]
    assert gained(rows, course, dt.date(2025, 1, 2), dt.date(2025, 7, 2)) == pytest.approx(2.4, abs=0.5)
    assert abs(gained(rows, course, dt.date(2024, 1, 1), dt.date(2024, 3, 29))) < 0.1


def seasonal(rows: pl.DataFrame, told: pl.DataFrame) -> np.ndarray:
    day = rows["on_date"].cast(pl.Int32).to_numpy().astype(np.float64)
    return of_season((told["season_sine"].to_numpy(), told["season_cosine"].to_numpy()), day)


def test_the_course_jumps_only_where_a_season_becomes_known_and_does_not_look_ahead() -> None:
    rows = sessions(4, 8, 700, 3.0, 1.0)
    told = expected_course(rows, {}, 1.0)
    course, grown = told["expected"], told["expected"] - pl.Series(seasonal(rows, told))
    steps = rows.with_columns(grown.alias("course")).select(pl.col("course").diff().over("player_id").abs().max()).item()
    assert steps < 0.15
    early = rows.filter(pl.col("on_date") < dt.date(2025, 6, 1))
    kept = course.filter(rows["on_date"] < dt.date(2025, 6, 1))
    np.testing.assert_array_equal(expected_course(early, {}, 1.0)["expected"].to_numpy(), kept.to_numpy())


def test_the_rise_of_a_spring_is_no_growth_once_the_season_is_known() -> None:
    rows = sessions(4, 8, 700, 0.0, 1.2)
    told = expected_course(rows, {}, 1.0)
    then = told["expected"].to_numpy() - seasonal(rows, told)
    first_year = (rows["on_date"] < dt.date(2025, 1, 1)).to_numpy()
    assert np.ptp(then[first_year]) > 0.5
    assert np.ptp(told["grown"].to_numpy()) < 0.5
    early = expected_course(rows.filter(pl.Series(first_year) & (rows["on_date"] < dt.date(2024, 10, 1))), {}, 1.0)
    np.testing.assert_allclose(early["grown"], early["expected"], atol=1e-12)


def amplitude(rows: pl.DataFrame, told: pl.DataFrame, of: pl.Expr) -> pl.Series:
    """The season of each of some players as known at the end [%]."""
    size = (told["season_sine"] ** 2 + told["season_cosine"] ** 2).sqrt()
    return rows.with_columns(size.alias("size")).filter(of).group_by("player_id", maintain_order=True).last()["size"]


def test_those_who_stop_rising_within_a_year_make_no_season() -> None:
    """A quarter of six squads gains 6 % a year and stops after 200 days; a bend within a year resembles a sine of the year."""
    stopped, since, sizes = pl.col("player_id") < "p10", (pl.col("on_date") - START).dt.total_days(), []
    for seed in range(6, 12):
        rose = pl.when(stopped).then(6.0 * pl.min_horizontal(since, 200) / 365.25).otherwise(0.0)
        rows = sessions(seed, 40, 420, 0.0, 0.0).with_columns(pl.col("x") + rose)
        told = expected_course(rows, {}, 1.0)
        sizes.append([amplitude(rows, told, of).mean() for of in (stopped, ~stopped)])
    of_stopped, of_others = np.mean(np.array(sizes, dtype=np.float64), axis=0)
    assert of_stopped < 0.2
    assert of_others < 0.07


def test_seasons_of_players_may_differ() -> None:
    rows, day = sessions(9, 24, 760, 0.0, 1.2), pl.col("on_date").cast(pl.Int32)
    small = pl.col("player_id") < "p12"
    other = pl.when(small).then(0.7).otherwise(-0.7) * (2.0 * np.pi * day / 365.25).cos()
    rows = rows.with_columns(pl.col("x") + other)
    told = expected_course(rows, {}, 1.0)
    assert amplitude(rows, told, small).mean() == pytest.approx(0.5, abs=0.3)
    assert amplitude(rows, told, ~small).mean() == pytest.approx(1.9, abs=0.3)


def test_a_season_is_what_a_weighted_fit_finds_beside_level_and_slope() -> None:
    """Independent: a library's least squares with four columns; players who are alike leave nothing to draw toward."""
    rng = np.random.default_rng(12)
    day, variance = np.sort(rng.uniform(20_000.0, 20_700.0, 80)), rng.uniform(0.3, 2.5, 80)
    angle, years = 2.0 * np.pi * day / 365.25, (day - day[0]) / 365.25
    x = 380.0 + 2.0 * years + 1.5 * np.sin(angle) - 0.7 * np.cos(angle) + rng.normal(0.0, 1.0, 80)
    own = {"day": day, "x": x, "variance": variance}
    rows = pl.concat([pl.DataFrame(own).with_columns(player_id=pl.lit(f"p{k}"), club=pl.lit("driver")) for k in range(6)])
    root = variance[:, None] ** -0.5
    columns = np.column_stack([np.ones(80), years, np.sin(angle), np.cos(angle)])
    fitted = np.linalg.lstsq(columns * root, x * root[:, 0], rcond=None)[0][2:]
    squad, players = seasons(rows.sort("day"))
    assert squad == pytest.approx(tuple(fitted), rel=1e-9)
    assert players == {(f"p{k}", "driver"): pytest.approx(tuple(fitted), rel=1e-9) for k in range(6)}


def test_one_who_fell_in_a_day_is_not_expected_to_go_on_falling() -> None:
    rows = sessions(5, 12, 400, 0.0, 0.0)
    fell = (pl.col("player_id") == "p00") & (pl.col("on_date") >= dt.date(2024, 8, 1))
    course = expected_course(rows.with_columns(pl.when(fell).then(pl.col("x") - 4.0).otherwise("x").alias("x")), {}, 1.0)[
        "expected"
    ]
    mine = rows.with_columns(course.alias("course")).filter(player_id="p00")
    assert abs(mine["course"][-1] - mine["course"][0]) < 1.0


def test_growth_is_that_of_juniors_and_the_season_is_told_apart() -> None:
    grown = expected_course(sessions(1, 12, 700, 4.0, 0.0), {f"p{n:02d}": 2010 for n in range(12)}, 1.0)
    assert grown["growth"][-1] == pytest.approx(4.0, abs=0.6)
    rows = sessions(3, 12, 700, 0.0, 1.2)
    told = expected_course(rows, {}, 1.0)
    assert (told["growth"] == 0.0).all()
    assert np.ptp(seasonal(rows, told)) == pytest.approx(2.4, abs=0.5)


@pytest.mark.parametrize(("birth_year", "expected"), [(2008, "junior"), (2007, "adult"), (1975, "older"), (None, "adult")])
def test_classes_of_age(birth_year: int | None, expected: str) -> None:
    assert age_class(birth_year, 2025) == expected
