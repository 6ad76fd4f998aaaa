"""Returns to normal: which days are followed, and what is said session by session; squads in which it must tell and must not."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl
import pytest
from scipy.stats import ttest_ind

from pipelines.measures.since.normal import Moments, differences
from pipelines.measures.since.sessions import days_since, first_day, sessions_since

if TYPE_CHECKING:
    from collections.abc import Iterable

BEGIN, LAST = dt.date(2026, 1, 5), dt.date(2026, 6, 30)
NO_CHANGES = pl.DataFrame(schema={"player_id": pl.String, "changed_on": pl.Date, "kind": pl.String})


def day(number: int) -> dt.date:
    return BEGIN + dt.timedelta(days=number)


def struck(numbers: Iterable[int], player_id: str = "p1") -> pl.DataFrame:
    return pl.DataFrame([{"player_id": player_id, "on_date": day(number)} for number in numbers])


def changes(*told: tuple[int, str]) -> pl.DataFrame:
    rows = [{"player_id": "p1", "changed_on": day(number), "kind": kind} for number, kind in told]
    return pl.DataFrame(rows, schema=NO_CHANGES.schema)


def points(values: dict[int, float], metric: str = "club_speed_mps", **other: Any) -> pl.DataFrame:
    """Sessions of one player by day number."""
    row = {"player_id": "p1", "club_group": "driver", "metric": metric, "series": "", "worthwhile": 1.0}
    return pl.DataFrame(
        [
            row | {"session_id": f"s{number:03}", "on_date": day(number), "value": value} | other
            for number, value in values.items()
        ]
    )


def speeds(rng: np.random.Generator, numbers: Iterable[int], level: float) -> dict[int, float]:
    """Speeds [m/s] with 0.7 % from session to session."""
    return {number: level * float(np.exp(0.007 * rng.standard_normal())) for number in numbers}


BEFORE, AFTER = range(0, 60, 3), range(90, 140, 3)


def since(values: dict[int, float], named: pl.DataFrame = NO_CHANGES, **other: Any) -> pl.DataFrame:
    rows = points(values, **other)
    return sessions_since(rows, days_since(struck(values), named, LAST))


def test_a_gap_of_21_days_is_a_break_and_one_of_20_is_not() -> None:
    found = days_since(struck([0, 3, 24, 44, 50]), NO_CHANGES, LAST)
    assert found.select("since_on", "cause", "until_on").rows() == [(day(24), "break", day(3))]


def test_a_named_day_stands_in_place_of_the_break_it_lies_in() -> None:
    found = days_since(struck([0, 3, 30, 33]), changes((10, "pause")), LAST)
    assert found.select("since_on", "cause", "until_on").rows() == [(day(10), "pause", day(9))]
    assert days_since(struck([0, 3, 30, 33]), changes((3, "pause")), LAST)["cause"].to_list() == ["pause", "break"]
    assert days_since(struck([0, 3, 30, 33]), changes((30, "technique")), LAST)["cause"].to_list() == ["technique"]
    assert days_since(struck([0, 3, 30, 33]), changes((31, "technique")), LAST)["cause"].to_list() == ["break", "technique"]


def test_sessions_before_the_first_day_tell_nothing_and_the_one_on_the_day_after_does() -> None:
    rng = np.random.default_rng(7)
    values = speeds(rng, [0, 1, 2, *range(60, 100, 4), *range(140, 160, 4)], 45.0)  # the last one before the break is day 96
    days, all_points = days_since(struck([*range(0, 96, 12), 96, 140]), NO_CHANGES, LAST), points(values)
    first = first_day(days, LAST)
    assert first == day(96 - 84)
    found = sessions_since(all_points, days)
    assert sessions_since(all_points.filter(pl.col("on_date") > first), days).equals(found)
    assert not sessions_since(all_points.filter(pl.col("on_date") > day(60)), days).equals(found)
    assert first_day(days.clear(), LAST) == LAST - dt.timedelta(days=84)


def test_a_return_lasts_twelve_weeks_or_until_the_next_day_that_is_followed() -> None:
    found = days_since(struck([0, 30, 60]), NO_CHANGES, LAST)
    assert found["last_on"].to_list() == [day(59), day(60 + 83)]
    assert days_since(struck([0, 30]), NO_CHANGES, day(40))["last_on"].to_list() == [day(40)]


def test_what_lies_more_than_a_year_back_or_ahead_is_not_followed() -> None:
    assert days_since(struck([0, 30]), NO_CHANGES, day(30 + 364)).height == 1
    assert days_since(struck([0, 30]), NO_CHANGES, day(30 + 365)).is_empty()
    assert days_since(struck([0, 30]), changes((40, "other")), day(35))["since_on"].to_list() == [day(30)]


def test_a_speed_that_is_back_is_told_with_the_first_session_that_showed_it() -> None:
    rng = np.random.default_rng(3)
    slow = {number: 45.0 * (1 - 0.04 * max(0.0, (108 - number) / 18)) for number in AFTER}  # 4 % down, back after 18 days
    found = since(speeds(rng, BEFORE, 45.0) | {n: v * float(np.exp(0.004 * rng.standard_normal())) for n, v in slow.items()})
    states = found["state"].to_list()
    assert found["reason"].to_list()[:2] == ["few_since", ""]
    assert states[1] == "not_back"
    assert states[-1] == "back"
    first = found.row(-1, named=True)["first_back_on"]
    assert day(105) <= first <= day(125)
    assert found.filter(pl.col("on_date") < first)["first_back_on"].null_count() == found.filter(pl.col("on_date") < first).height


def test_a_speed_that_stays_two_per_cent_down_is_not_back() -> None:
    rng = np.random.default_rng(4)
    last = since(speeds(rng, BEFORE, 45.0) | speeds(rng, AFTER, 44.1)).row(-1, named=True)
    assert last["state"] == "not_back"
    assert last["first_back_on"] is None
    assert last["change_low"] < -2.0 < last["change_high"] < 0.0


def test_scatter_is_compared_as_a_ratio_and_direction_in_degrees() -> None:
    rng = np.random.default_rng(5)
    wide = {n: 12.0 * float(np.exp(0.12 * rng.standard_normal())) * (2.0 if n > 80 else 1.0) for n in (*BEFORE, *AFTER)}
    scatter = since(wide, metric="scatter_side_m", worthwhile=15.0).row(-1, named=True)
    assert scatter["change"] == pytest.approx(69.3, abs=15)
    assert scatter["state"] == "not_back"
    aim = {n: -0.5 + 0.3 * float(rng.standard_normal()) for n in (*BEFORE, *AFTER)}
    direction = since(aim, metric="aim_deg").row(-1, named=True)
    assert direction["state"] == "back"
    assert direction["normal"] == pytest.approx(-0.5, abs=0.3)
    assert direction["level"] - direction["normal"] == pytest.approx(direction["change"])


def test_the_last_five_sessions_tell_how_it_is_now() -> None:
    values = dict.fromkeys(BEFORE, 45.0) | {90: 40.0, 93: 41.0, 96: 42.0, 99: 43.0, 102: 44.0, 105: 45.0}
    found = since(values)
    assert found["n_level"].to_list() == [1, 2, 3, 4, 5, 5]
    assert found["level"][-1] == pytest.approx(float(np.exp(np.log([41, 42, 43, 44, 45]).mean())))


def test_where_it_cannot_be_told_the_reason_stands() -> None:
    few = since({0: 45.0, 3: 45.1, 6: 45.0, 40: 45.0, 43: 45.0})
    assert few.select("reason", "state", "change", "n_before").rows()[-1] == ("few_before", None, None, 3)
    none = since(dict.fromkeys(BEFORE, 45.0), changes((70, "technique")))
    assert none.select("n_since", "reason", "session_id", "n_before", "cause").rows() == [
        (0, "no_session", None, 20, "technique")
    ]
    assert since(dict.fromkeys(BEFORE, 45.0) | {90: 45.0})["reason"].to_list() == ["few_since"]


def test_sessions_of_a_device_that_is_followed_on_its_own_are_left_out() -> None:
    values = dict.fromkeys(BEFORE, 45.0) | dict.fromkeys(AFTER, 43.0)
    rows = points(values).with_columns(series=pl.when(pl.col("on_date") >= day(90)).then(pl.lit("bay-9")).otherwise(pl.lit("")))
    assert sessions_since(rows, days_since(struck(values), NO_CHANGES, LAST))["reason"].to_list() == ["no_session"]


def test_the_normal_before_is_that_of_twelve_weeks() -> None:
    values = {0: 30.0, 10: 30.0} | dict.fromkeys(range(94, 110, 3), 45.0) | {140: 45.0, 143: 45.0}
    found = since(values).filter(pl.col("since_on") == day(140)).row(-1, named=True)
    assert (found["n_before"], found["normal"]) == (6, pytest.approx(45.0))


def test_nobody_and_nothing_give_no_row() -> None:
    empty = points({0: 45.0}).clear()
    assert sessions_since(empty, days_since(struck([0, 40]), NO_CHANGES, LAST)).is_empty()
    assert sessions_since(points({0: 45.0}), days_since(struck([0]), NO_CHANGES, LAST)).is_empty()


def squads(change: float, likeness: float, n: int = 150) -> pl.DataFrame:
    """The last state of so many players whose form resembles that of the session before; ``change`` [%] since the break."""
    rng = np.random.default_rng(11)
    parts = []
    for number in range(n):
        form = rng.standard_normal(len(BEFORE) + len(AFTER))
        for at in range(1, len(form)):
            form[at] = likeness * form[at - 1] + np.sqrt(1 - likeness**2) * form[at]
        level = [45.0] * len(BEFORE) + [45.0 * float(np.exp(change / 100))] * len(AFTER)
        values = dict(zip((*BEFORE, *AFTER), level * np.exp(0.008 * form), strict=True))
        parts.append(points(values, player_id=f"p{number}"))
    rows = pl.concat(parts)
    days = days_since(rows.select("player_id", "on_date"), NO_CHANGES, LAST)
    return sessions_since(rows, days)


@pytest.mark.parametrize(("likeness", "most"), [(0.0, 0.01), (0.4, 0.04)])
def test_players_who_are_as_before_are_hardly_ever_told_not_to_be_back(likeness: float, most: float) -> None:
    """Own simulation: .8 % from session to session, 17 sessions since."""
    found = squads(0.0, likeness)
    last = found.group_by("player_id").last()
    assert last.filter(state="not_back").height / last.height <= most
    assert last["first_back_on"].null_count() / last.height <= 0.1


@pytest.mark.parametrize("change", [-2.0, 2.0])
def test_players_who_are_not_as_before_are_hardly_ever_told_to_be_back_at_any_session(change: float) -> None:
    found = squads(change, 0.0)
    last = found.group_by("player_id").last()
    assert last["first_back_on"].count() / last.height <= 0.04
    assert last.filter(state="not_back").height / last.height >= 0.75


def test_without_a_prior_the_interval_is_that_of_the_t_test() -> None:
    """scipy.stats.ttest_ind with equal variances; our prior of 4 degrees of freedom is taken out by its own value."""
    rng = np.random.default_rng(8)
    before, after = rng.normal(0, 1, 300), rng.normal(0.3, 1, 200)
    parts = [
        Moments(np.array([len(one)]), np.array([one.mean()]), np.array([((one - one.mean()) ** 2).sum()]))
        for one in (before, after)
    ]
    found = differences(*parts, np.array([2.0]))
    reference = ttest_ind(after, before).confidence_interval(0.90)
    assert found.low[0] == pytest.approx(reference.low, abs=0.002)
    assert found.high[0] == pytest.approx(reference.high, abs=0.002)
