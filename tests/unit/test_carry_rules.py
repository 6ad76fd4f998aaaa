"""Comparable carry from rows written by hand: what each method computes, which shots tell of a ball, which spin stands in."""

from __future__ import annotations

from datetime import date
from math import atan2, degrees, log
from typing import Any

import polars as pl
import pytest

from pipelines.measures.carry import assumed_spins, ball_factors, comparable_carry, model_ratios, other_models

Row = dict[str, Any]

MARCH, APRIL, MAY = date(2026, 3, 1), date(2026, 4, 1), date(2026, 5, 1)

SHOT: Row = {
    "session_id": "s1",
    "shot_no": 1,
    "player_id": "p1",
    "on_date": date(2026, 3, 9),
    "club": "driver",
    "club_group": "driver",
    "device_id": "d1",
    "ball": "range",
    "indoors": False,
    "spin_rpm": 2700.0,
    "carry_m": 200.0,
    "offline_m": 10.0,
    "flight_reason": "",
    "model_carry_m": 220.0,
    "day_carry_m": 210.0,
    "model_offline_m": 6.0,
    "day_offline_m": 8.0,
    "model_run_m": 15.0,
    "air_density_kgpm3": 1.2,
}
FACTOR = {"device_id": "d1", "ball": "range", "month_on": MARCH, "factor": 0.9, "factor_source": "learned", "model_level": 1.05}
OTHER = {"session_id": "s1", "club": "driver", "pooled_anchored": 1.01, "pooled_computed": 1.04}
OTHER |= {"bearman_harvey_anchored": 0.99, "bearman_harvey_computed": 0.96}
KINDS: dict[str, pl.DataType] = {
    **dict.fromkeys(("ball", "device_id"), pl.String()),
    **dict.fromkeys(("carry_m", "offline_m", "spin_rpm", "day_carry_m", "day_offline_m"), pl.Float64()),
    **dict.fromkeys(("model_carry_m", "model_offline_m"), pl.Float64()),
    "indoors": pl.Boolean(),
}


def restated(*, factor: Row | None = None, **given: object) -> Row:
    """The one row that comes of one shot."""
    shot = pl.DataFrame([SHOT | given]).with_columns(pl.col(name).cast(kind) for name, kind in KINDS.items())
    factors = pl.DataFrame([FACTOR | (factor or {})]).with_columns(pl.col("ball", "device_id").cast(pl.String))
    return comparable_carry(shot, factors, pl.DataFrame([OTHER])).row(0, named=True)


def test_a_measured_carry_is_restated_by_the_ratio_of_two_flights_and_the_factor_of_its_ball() -> None:
    found = restated()
    carry = 200.0 * (220.0 / 210.0) / 0.9
    # measured offline grows with carry, less what the day's air did to the modelled ball, plus what still air does
    offline = 10.0 * carry / 200.0 - 8.0 * carry / 210.0 + 6.0 * carry / 220.0
    assert (found["method"], found["reason"], found["factor_source"], found["ball_factor"]) == ("anchored", "", "learned", 0.9)
    assert found["carry_m"] == pytest.approx(carry)
    assert found["offline_m"] == pytest.approx(offline)
    assert found["direction_deg"] == pytest.approx(degrees(atan2(offline, carry)))
    assert (found["run_m"], found["total_m"]) == (15.0, pytest.approx(carry + 15.0))
    assert found["carry_pooled_m"] == pytest.approx(carry * 1.01)
    assert found["carry_bearman_harvey_m"] == pytest.approx(carry * 0.99)


def test_a_carry_that_was_not_measured_is_the_models_at_the_level_of_measured_ones() -> None:
    found = restated(carry_m=None, offline_m=None)
    carry = 220.0 * 1.05 / 0.9
    assert (found["method"], found["reason"]) == ("computed", "no_carry_measured")
    assert found["carry_m"] == pytest.approx(carry)
    assert found["offline_m"] == pytest.approx(6.0 * carry / 220.0)
    assert found["carry_pooled_m"] == pytest.approx(carry * 1.04)
    assert found["carry_bearman_harvey_m"] == pytest.approx(carry * 0.96)


def test_a_carry_as_reported_is_only_freed_of_its_ball() -> None:
    found = restated(day_carry_m=None, day_offline_m=None)
    assert (found["method"], found["reason"]) == ("measured_only", "air_unknown")
    assert found["carry_m"] == pytest.approx(200.0 / 0.9)
    assert found["offline_m"] == pytest.approx(10.0 / 0.9)
    assert found["carry_pooled_m"] == found["carry_m"]


def test_where_no_offline_was_measured_the_models_in_still_air_stands() -> None:
    found = restated(offline_m=None)
    assert found["offline_m"] == pytest.approx(6.0 * found["carry_m"] / 220.0)


def test_indoors_the_reported_carry_is_not_used() -> None:
    found = restated(indoors=True, day_carry_m=None, day_offline_m=None)
    assert (found["method"], found["reason"]) == ("computed", "indoors")
    assert found["carry_m"] == pytest.approx(220.0 * 1.05 / 0.9)


def test_a_session_that_does_not_say_where_it_was_counts_as_outdoors() -> None:
    assert restated(indoors=None) == restated()
    assert restated(indoors=None, carry_m=None)["reason"] == "no_carry_measured"


def test_a_spin_that_stands_in_is_said_before_where_the_shot_was_hit() -> None:
    assert restated(spin_rpm=None)["reason"] == "spin_assumed"
    assert restated(spin_rpm=None, indoors=True)["reason"] == "spin_assumed"


def test_what_has_no_flight_says_why() -> None:
    unflown = {"model_carry_m": None, "model_offline_m": None, "day_carry_m": None, "day_offline_m": None}
    found = restated(**unflown, flight_reason="no_launch")
    assert (found["method"], found["reason"]) == ("measured_only", "no_launch")
    found = restated(**unflown, flight_reason="no_launch", carry_m=None)
    assert (found["method"], found["reason"], found["carry_m"], found["offline_m"]) == ("none", "no_launch", None, None)


def test_a_computed_flight_of_the_reference_ball_owes_nothing_to_the_device() -> None:
    premium: Row = {"ball": "premium"}
    computed = restated(factor=premium, ball="premium", carry_m=None)
    assert (computed["ball_factor"], computed["factor_source"]) == (1.0, "reference")
    assert computed["carry_m"] == pytest.approx(220.0 * 1.05)
    measured = restated(factor=premium, ball="premium")
    assert (measured["ball_factor"], measured["factor_source"]) == (0.9, "learned")


def test_a_ball_without_a_name_has_the_factor_of_its_device() -> None:
    assert restated(factor={"ball": None}, ball=None)["ball_factor"] == 0.9
    assert restated(factor={"ball": None}, ball=None, carry_m=None)["ball_factor"] == 0.9


def test_a_ball_of_which_nothing_is_known_has_a_factor_of_one_and_says_so() -> None:
    found = restated(factor={"month_on": APRIL})
    assert (found["ball_factor"], found["factor_source"]) == (1.0, "none")
    assert found["carry_m"] == pytest.approx(200.0 * 220.0 / 210.0)


def cell(player: str, club: str, ball: str | None, n: int, factor: float = 1.0, month: date = MARCH, **given: object) -> Row:
    """What a session told of a ball that leaves as fast, and carries as far, as ``factor`` says."""
    told: Row = {
        "player_id": player,
        "session_id": f"{player}-{month}-{club}-{ball}",
        "club": club,
        "device_id": "d1",
        "ball": ball,
    }
    told |= {"month_on": month, "speed": n * log(1.45 * factor), "speed_n": n, "near": n * log(factor), "near_n": n}
    return told | {"indoor": 0.0, "indoor_n": 0, "off": 0.0, "off_n": 0} | given


def factors_of(*cells: Row, chosen: dict[str, float] | None = None) -> dict[tuple[date, str | None], Row]:
    """Month and ball to the row of their factors."""
    found = ball_factors(pl.DataFrame(cells, infer_schema_length=None), chosen or {})
    return {(row["month_on"], row["ball"]): row for row in found.iter_rows(named=True)}


def test_only_players_who_hit_both_balls_with_the_same_club_tell_of_them() -> None:
    both = (cell("p1", "driver", "premium", 80), cell("p1", "driver", "range", 70, 0.95))
    # a range ball of somebody who hit no other, and of another club of the same player: slower players and clubs, no slower ball
    alone = (cell("p2", "driver", "range", 90, 0.7), cell("p1", "7i", "range", 90, 0.6))
    found = factors_of(*both, *alone)[MARCH, "range"]
    assert (found["factor_source"], found["n_shots"]) == ("learned", 70)
    assert (found["speed_factor_source"], found["n_speed_shots"]) == ("learned", 70)
    assert found["factor"] == pytest.approx(0.95)
    assert found["speed_factor"] == pytest.approx(0.95)
    assert found["known_on"] == MARCH
    assert factors_of(*both, *alone)[MARCH, "premium"]["factor_source"] == "reference"


def test_players_tell_of_a_ball_by_the_number_of_their_shots() -> None:
    found = factors_of(
        *(cell("p1", "driver", "premium", 100), cell("p1", "driver", "range", 100, 0.96)),
        *(cell("p2", "driver", "premium", 50), cell("p2", "driver", "range", 50, 0.90)),
    )[MARCH, "range"]
    assert found["n_shots"] == 150
    assert log(found["factor"]) == pytest.approx((100 * log(0.96) + 50 * log(0.90)) / 150)


@pytest.mark.parametrize(("n", "source", "factor"), [(59, "none", 1.0), (60, "learned", 0.95)])
def test_a_factor_is_known_from_sixty_shots_on(n: int, source: str, factor: float) -> None:
    found = factors_of(cell("p1", "driver", "premium", 80), cell("p1", "driver", "range", n, 0.95))[MARCH, "range"]
    assert (found["factor_source"], found["n_shots"], found["factor"]) == (source, n, pytest.approx(factor))
    assert (found["speed_factor_source"], found["speed_factor"]) == (source, pytest.approx(factor))


@pytest.mark.parametrize(("n", "told"), [(9, 70), (10, 80)])
def test_fewer_than_ten_shots_of_a_player_and_club_tell_nothing(n: int, told: int) -> None:
    sure = (cell("p1", "driver", "premium", 80), cell("p1", "driver", "range", 70, 0.95))
    few = (cell("p2", "driver", "premium", 20), cell("p2", "driver", "range", n, 0.95))
    assert factors_of(*sure, *few)[MARCH, "range"]["n_shots"] == told


def test_without_the_reference_ball_nothing_is_compared() -> None:
    found = factors_of(cell("p1", "driver", "range", 80, 0.95), cell("p1", "driver", None, 80, 0.9))
    assert (found[MARCH, "range"]["factor"], found[MARCH, "range"]["factor_source"]) == (1.0, "none")
    assert (found[MARCH, None]["factor"], found[MARCH, None]["factor_source"]) == (1.0, "none")
    assert found[MARCH, "range"]["known_on"] is None


def test_a_ball_without_a_name_tells_nothing_of_others() -> None:
    both = (cell("p1", "driver", "premium", 80), cell("p1", "driver", "range", 70, 0.95))
    assert factors_of(*both, cell("p1", "driver", None, 70, 0.5))[MARCH, "range"] == factors_of(*both)[MARCH, "range"]


def test_indoors_a_premium_ball_counts_as_flown_at_the_level_of_measured_carries() -> None:
    # 1.2 times the logarithm of its speed ratio, and that of the level at the end of the month for each of its shots
    level, n = 1.03, 80
    outdoors = cell("p2", "driver", "premium", 60, near_n=0, near=0.0, off=60 * log(level), off_n=60)
    indoors = cell("p1", "driver", "premium", n, near_n=0, near=0.0, indoor=0.0, indoor_n=n)
    ranged = cell("p1", "driver", "range", 70, 0.95)
    found = factors_of(outdoors, indoors, ranged)
    assert found[MARCH, "range"]["factor"] == pytest.approx(0.95 / level)
    assert found[MARCH, "range"]["model_level"] == pytest.approx(level)


def test_the_reference_is_the_premium_ball_of_the_device_that_has_seen_most_of_it() -> None:
    few = (cell("p1", "driver", "premium", 70, 1.02, device_id="d2"), cell("p1", "driver", "range", 70, 0.95, device_id="d2"))
    found = ball_factors(pl.DataFrame([cell("p1", "driver", "premium", 80), *few]), {}).sort("device_id", "ball")
    assert found["factor"].to_list() == pytest.approx([1.0, 1.02, 0.95])
    assert found["factor_source"].to_list() == ["reference", "learned", "learned"]


def test_of_two_devices_that_have_seen_as_many_the_first_by_name_gives_the_reference() -> None:
    other = cell("p1", "driver", "premium", 80, 1.02, device_id="d2")
    found = ball_factors(pl.DataFrame([other, cell("p1", "driver", "premium", 80)]), {}).sort("device_id")
    assert found["factor_source"].to_list() == ["reference", "learned"]
    assert found["factor"].to_list() == pytest.approx([1.0, 1.02])


def test_a_set_factor_holds_for_the_range_balls_of_its_device_alone() -> None:
    both = (cell("p1", "driver", "premium", 80), cell("p1", "driver", "range", 70, 0.95))
    found = factors_of(*both, chosen={"d1": 0.9})
    assert (found[MARCH, "range"]["factor"], found[MARCH, "range"]["factor_source"], found[MARCH, "range"]["n_shots"]) == (
        0.9,
        "set",
        0,
    )
    assert (found[MARCH, "premium"]["factor"], found[MARCH, "premium"]["factor_source"]) == (1.0, "reference")
    assert found[MARCH, "range"]["speed_factor"] == pytest.approx(0.95)
    assert factors_of(*both, chosen={"d2": 0.9})[MARCH, "range"]["factor"] == pytest.approx(0.95)


def test_a_month_has_what_was_known_when_it_began_and_one_before_the_first_takes_that() -> None:
    march = (cell("p1", "driver", "premium", 80), cell("p1", "driver", "range", 30, 0.95))
    april = (cell("p1", "driver", "premium", 80, month=APRIL), cell("p1", "driver", "range", 30, 0.95, month=APRIL))
    may = (cell("p1", "driver", "premium", 80, month=MAY), cell("p1", "driver", "range", 80, 0.80, month=MAY))
    found = factors_of(*march, *april, *may)
    told = {month: (found[month, "range"]["factor"], found[month, "range"]["factor_source"]) for month in (MARCH, APRIL, MAY)}
    assert told == dict.fromkeys((MARCH, APRIL, MAY), (pytest.approx(0.95), "learned"))
    assert [found[month, "range"]["n_shots"] for month in (MARCH, APRIL, MAY)] == [30, 60, 60]
    assert {found[month, "range"]["known_on"] for month in (MARCH, APRIL, MAY)} == {APRIL}


def test_the_level_of_a_month_is_what_was_known_when_it_began() -> None:
    def level_of(month: date, level: float, n: int) -> Row:
        return cell("p1", "driver", "premium", 80, month=month, off=n * log(level), off_n=n)

    found = factors_of(level_of(MARCH, 1.02, 59), level_of(APRIL, 1.02, 61), level_of(MAY, 0.9, 400))
    assert [found[month, "premium"]["model_level"] for month in (MARCH, APRIL, MAY)] == pytest.approx([1.02, 1.02, 1.02])
    found = factors_of(level_of(MARCH, 1.02, 60), level_of(APRIL, 0.98, 60), level_of(MAY, 0.9, 400))
    levels = [found[month, "premium"]["model_level"] for month in (MARCH, APRIL, MAY)]
    assert levels == pytest.approx([1.02, 1.02, (1.02 * 0.98) ** 0.5])
    assert factors_of(level_of(MARCH, 1.02, 59))[MARCH, "premium"]["model_level"] == 1.0


def test_of_other_coefficients_only_what_their_level_does_not_take_out_remains() -> None:
    told: Row = {"off": 60 * log(1.03), "off_n": 60, "pooled_off": 60 * log(1.01), "pooled_off_n": 60}
    told |= {"bearman_harvey_off": 0.0, "bearman_harvey_off_n": 59, "pooled_still": 1.06, "pooled_day": 1.05}
    found = other_models(
        pl.DataFrame([cell("p1", "driver", "premium", 80, **told, bearman_harvey_still=0.9, bearman_harvey_day=0.8)])
    )
    row = found.row(0, named=True)
    assert row["pooled_anchored"] == pytest.approx(1.06 / 1.05)
    assert row["pooled_computed"] == pytest.approx(1.06 / (1.03 / 1.01))
    assert row["bearman_harvey_anchored"] == pytest.approx(0.9 / 0.8)
    assert row["bearman_harvey_computed"] == pytest.approx(0.9 / 1.03)


LAUNCH: Row = {
    "session_id": "s1",
    "club": "driver",
    "on_date": MARCH,
    "indoors": False,
    "model_carry_m": 210.0,
    "ball_speed_mps": 65.0,
    "launch_deg": 12.0,
    "direction_deg": 0.0,
    "spin_used_rpm": 2700.0,
    "spin_axis_deg": 0.0,
    "air_density_kgpm3": 1.25,
    "wind_mps": 0.0,
    "wind_from_deg": 0.0,
}


def ratios(**given: object) -> Row:
    """How far other models are from the default one, of one mean launch."""
    kinds = [pl.col(name).cast(pl.Float64) for name, value in LAUNCH.items() if isinstance(value, float)]
    launch = pl.DataFrame([LAUNCH | given]).with_columns(*kinds, pl.col("indoors").cast(pl.Boolean))
    return model_ratios(launch, 1.2, 10.0).row(0, named=True)


@pytest.mark.parametrize("name", ["direction_deg", "spin_axis_deg", "wind_mps", "wind_from_deg"])
def test_side_and_wind_that_were_not_measured_count_as_none(name: str) -> None:
    beside: Row = {"wind_mps": 4.0} if name == "wind_from_deg" else {}
    assert ratios(**beside, **{name: None}) == ratios(**beside)
    assert ratios(**beside, **{name: 20.0}) != ratios(**beside)


def test_other_models_are_told_only_of_what_has_a_flight() -> None:
    told, untold = ratios(), ratios(air_density_kgpm3=None)
    assert (told["pooled_still"], told["pooled_day"]) == (untold["pooled_still"], pytest.approx(1.0, abs=0.1))
    assert untold["pooled_day"] is None
    assert ratios(indoors=True)["bearman_harvey_day"] is None
    assert ratios(indoors=None) == told
    assert {ratios(**{name: None})["pooled_still"] for name in ("ball_speed_mps", "launch_deg", "spin_used_rpm")} == {None}


DAYS = tuple(date(2026, 3, day) for day in (2, 9, 16, 23))


def spins(*daily: tuple[str, str, date, float], wanted: tuple[tuple[str, str, date], ...]) -> dict[tuple[str, str, str], object]:
    known = pl.DataFrame(daily, schema=["player_id", "club", "on_date", "spin_rpm"], orient="row")
    spinless = pl.DataFrame(
        [(player, f"{player}-{day.day}", club, day) for player, club, day in wanted],
        schema=["player_id", "session_id", "club", "on_date"],
        orient="row",
    )
    found = assumed_spins(known, spinless)
    assert found.columns == ["player_id", "session_id", "club", "usual_spin_rpm"]
    return {(player, session, club): spin for player, session, club, spin in found.iter_rows()}


def test_the_spin_that_stands_in_is_the_mean_of_the_players_days_with_this_club_so_far() -> None:
    daily = (
        *(("p1", "driver", DAYS[0], 2600.0), ("p1", "driver", DAYS[1], 2700.0), ("p1", "driver", DAYS[3], 4000.0)),
        *(("p1", "7i", DAYS[1], 7000.0), ("p2", "driver", DAYS[1], 3300.0)),
    )
    found = spins(*daily, wanted=(("p1", "driver", DAYS[1]), ("p1", "driver", DAYS[2]), ("p1", "7i", DAYS[2])))
    assert found == {("p1", "p1-9", "driver"): 2650.0, ("p1", "p1-16", "driver"): 2650.0, ("p1", "p1-16", "7i"): 7000.0}
    assert spins(*daily, wanted=(("p2", "driver", DAYS[2]),)) == {("p2", "p2-16", "driver"): 3300.0}


def test_a_player_without_a_spin_has_that_of_the_squad_with_this_club() -> None:
    daily = (
        *(("p1", "driver", DAYS[0], 2500.0), ("p2", "driver", DAYS[0], 2700.0), ("p3", "driver", DAYS[0], 3500.0)),
        *(("p1", "driver", DAYS[1], 2900.0), ("p1", "7i", DAYS[0], 7000.0), ("p2", "driver", DAYS[3], 4000.0)),
    )
    wanted = (("p4", "driver", DAYS[0]), ("p4", "driver", DAYS[2]), ("p4", "wedge", DAYS[2]), ("p2", "7i", DAYS[2]))
    found = spins(*daily, wanted=wanted)
    # the median of the players of a day, and the mean of such days; of a club that nobody has struck nothing is known
    assert found["p4", "p4-2", "driver"] == 2700.0
    assert found["p4", "p4-16", "driver"] == 2800.0
    assert found["p4", "p4-16", "wedge"] is None
    assert found["p2", "p2-16", "7i"] == 7000.0
