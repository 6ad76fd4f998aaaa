"""Expected strokes: Broadie 2012 (second-hand, two copies agree), Broadie 2008, Broadie & Ko 2009 (through one summary).

The courses of the published simulations are not printed. "Rough only" is built here from what is said of the golfer: fourteen
drives, fairways of 32 yards (tour) and 36 yards (club), and holes of a length that such a golfer plays.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from scipy.stats import norm

from pipelines.measures.strokes import DrivePattern, expected_strokes, strokes_to_hole_out
from pipelines.measures.strokes.pattern import USUAL_TAIL_SHARE
from pipelines.measures.tables import published_table
from pipelines.measures.tradeoff import PrintedSaving, SpeedScale, printed_savings, scatter_price_deg
from schemas.course import TREE_LINED_COURSE, Course, Side, TeeShot

YD = 0.9144
TABLE = published_table("broadie2012_table9_pga_strokes_to_hole_out")
SAVED = published_table("broadie_ko2009_strokes_saved")
TOUR_LENGTHS = np.concatenate([np.linspace(380, 490, 10), np.linspace(530, 590, 4)])
CLUB_LENGTHS = np.concatenate([np.linspace(310, 420, 10), np.linspace(470, 530, 4)])


def rough_only(lengths_yd: np.ndarray, width_yd: float) -> Course:
    return Course("rough only", tuple(TeeShot(length * YD, width_yd * YD) for length in lengths_yd))


def drives(yards: float, sd_deg: float, tail_share: float = USUAL_TAIL_SHARE) -> DrivePattern:
    return DrivePattern(yards * YD, 0.0, 0.06 * yards * YD, sd_deg, tail_share=tail_share)


def saved(pattern: DrivePattern, course: Course, standard: str, yards: float = 0.0, degrees: float = 0.0) -> float:
    better = replace(
        pattern, total_m=pattern.total_m + yards * YD, direction_sd_deg=max(pattern.direction_sd_deg - degrees, 0.05)
    )
    return expected_strokes(pattern, course, standard).per_round - expected_strokes(better, course, standard).per_round


@pytest.mark.parametrize("lie", ["fairway", "rough", "recovery"])
def test_every_printed_cell_comes_back(lie: str) -> None:
    rows = TABLE.select("distance_yd", lie).drop_nulls()
    got = strokes_to_hole_out(rows["distance_yd"].to_numpy() * YD, lie)  # type: ignore[arg-type]
    np.testing.assert_allclose(got, rows[lie].to_numpy(), atol=1e-9)


@pytest.mark.parametrize("lie", ["tee", "sand"])
def test_smoothing_moves_tee_and_sand_by_four_hundredths_at_most(lie: str) -> None:
    rows = TABLE.select("distance_yd", lie).drop_nulls()
    got = strokes_to_hole_out(rows["distance_yd"].to_numpy() * YD, lie)  # type: ignore[arg-type]
    assert np.abs(got - rows[lie].to_numpy()).max() <= 0.04
    assert (np.diff(got) >= -1e-12).all()


def test_recovery_costs_six_tenths_over_the_fairway() -> None:
    # the paper's own prose: "0.6" (second-hand); mean of 150-300 yd
    at = np.arange(150, 301, 10) * YD
    penalty = strokes_to_hole_out(at, "recovery") - strokes_to_hole_out(at, "fairway")
    assert float(penalty.mean()) == pytest.approx(0.6, abs=0.05)


def test_recovery_costs_four_tenths_over_the_rough() -> None:
    # the paper's own prose: "0.4" (second-hand)
    at = np.arange(150, 301, 10) * YD
    penalty = strokes_to_hole_out(at, "recovery") - strokes_to_hole_out(at, "rough")
    assert float(penalty.mean()) == pytest.approx(0.4, abs=0.05)


def test_rough_costs_23_hundredths_at_120_yards() -> None:
    # the paper's own prose: .23 (second-hand)
    got = strokes_to_hole_out(120 * YD, "rough") - strokes_to_hole_out(120 * YD, "fairway")
    assert float(got) == pytest.approx(0.23, abs=0.005)


def test_missing_the_fairway_costs_a_fifth_of_a_stroke_at_50_to_150_yards() -> None:
    # .20, standard error .004, 2009-10 (second-hand); the table is of 2003-10
    at = np.arange(50, 151, 5) * YD
    penalty = strokes_to_hole_out(at, "rough") - strokes_to_hole_out(at, "fairway")
    assert float(penalty.mean()) == pytest.approx(0.20, abs=0.03)


def test_tee_line_of_the_tour() -> None:
    # J = 2.38 + .0041 d, section 3.1 (second-hand): the regression through the tee column
    rows = TABLE.select("distance_yd", "tee").drop_nulls()
    slope, at_zero = np.polyfit(rows["distance_yd"].to_numpy(), rows["tee"].to_numpy(), 1)
    assert at_zero == pytest.approx(2.38, abs=0.03)
    assert slope == pytest.approx(0.0041, abs=0.0001)


@pytest.mark.parametrize(("standard", "at_zero", "per_yd"), [("90", 2.79, 0.0066), ("80", 2.585, 0.00535)])
def test_tee_lines_of_other_standards(standard: str, at_zero: float, per_yd: float) -> None:
    # 2.79 + .0066 d for 90-golfers; 80-golfers midway between tour and 90 (second-hand); added to the tour's tee column
    at = TABLE.select("distance_yd", "tee").drop_nulls()["distance_yd"].to_numpy()
    got = strokes_to_hole_out(at * YD, "tee", standard) - strokes_to_hole_out(at * YD, "tee")
    np.testing.assert_allclose(got, at_zero - 2.38 + (per_yd - 0.0041) * at, atol=1e-9)


def test_out_of_bounds_costs_exactly_two_strokes() -> None:
    # stroke and distance (rules; strokes gained -2, Broadie 2012, second-hand)
    nowhere = Side(out_of_bounds_from_m=0.0)
    course = Course("fence", (TeeShot(380.0, 30.0, nowhere, nowhere),))
    pattern = replace(drives(250, 6.0), total_sd_m=1e-9)
    found = expected_strokes(pattern, course, "tour")
    assert found.out_share > 0.1
    balls_lost = found.out_share / (1.0 - found.out_share)
    assert found.per_tee_shot == pytest.approx(found.clean + 2.0 * balls_lost, abs=1e-9)


def test_twenty_yards_for_a_tour_player() -> None:
    # "slightly below 1" (Ko 2012, abstract read); 0.9 to 1.1 asked for: 285 yd, 4.0 degrees, fairway 32 yd
    assert 0.9 < saved(drives(285, 4.0), rough_only(TOUR_LENGTHS, 32), "tour", yards=20) < 1.1


@pytest.mark.parametrize("tail_share", [0.0, USUAL_TAIL_SHARE])
@pytest.mark.parametrize(("change", "yards", "degrees"), [("+20 yd", 20, 0), ("-2 deg", 0, 2)])
def test_rough_only_values_of_a_100_golfer(change: str, yards: float, degrees: float, tail_share: float) -> None:
    # Broadie & Ko 2009 (second-hand through one summary): 225 yd, 7.9 degrees; 1.7 and 0.4 strokes; within 15 %
    published = SAVED.filter((pl.col("course") == "rough only") & (pl.col("change") == change))["saved_100_golfer"][0]
    got = saved(drives(225, 7.9, tail_share), rough_only(CLUB_LENGTHS, 36), "100", yards, degrees)
    assert got == pytest.approx(published, rel=0.15)


@pytest.mark.parametrize(("standard", "yards", "sd"), [("100", 225.0, 7.9), ("80", 250.6, 5.5)])
def test_among_trees_the_order_of_the_published_simulation(standard: str, yards: float, sd: float) -> None:
    # Broadie & Ko 2009, trees course: distance +20 < +40; direction 1 < 2 < 3 degrees; 2 degrees more than 20 yards
    golfer = drives(yards, sd)
    by_distance = [saved(golfer, TREE_LINED_COURSE, standard, yards=d) for d in (20, 40)]
    by_direction = [saved(golfer, TREE_LINED_COURSE, standard, degrees=d) for d in (1, 2, 3)]
    assert 0.0 < by_distance[0] < by_distance[1]
    assert 0.0 < by_direction[0] < by_direction[1] < by_direction[2]
    assert by_direction[1] > by_distance[0]


def test_trees_make_distance_worth_less_and_direction_worth_more() -> None:
    # Broadie & Ko 2009: +20 yd 1.7 (rough only) against 1.2 (trees), -2 degrees .4 against 2.6, 100-golfer
    golfer = drives(225, 7.9)
    open_course = rough_only(CLUB_LENGTHS, 36)
    assert saved(golfer, TREE_LINED_COURSE, "100", yards=20) < saved(golfer, open_course, "100", yards=20)
    assert saved(golfer, TREE_LINED_COURSE, "100", degrees=2) > 3.0 * saved(golfer, open_course, "100", degrees=2)


CELLS = printed_savings()
FREE = [cell for cell in CELLS if not cell.is_calibrated]


def test_every_printed_saving_of_both_golfers_is_shown() -> None:
    # Broadie & Ko 2009 (second-hand through one summary): nine cells of the 100-golfer, five of the 80-golfer
    assert [sum(cell.standard == name for cell in CELLS) for name in ("100", "80")] == [9, 5]
    assert [(cell.trouble, cell.printed) for cell in CELLS if cell.is_calibrated] == [("rough_only", 1.7), ("rough_only", 0.4)]


@pytest.mark.parametrize("cell", FREE, ids=lambda one: f"{one.trouble}-{one.standard}-{one.further_yd}-{one.straighter_deg}")
def test_no_printed_saving_is_farther_off_than_the_page_says(cell: PrintedSaving) -> None:
    # the methods page says: 0.4 to 1.6 times what is printed; its course, not printed either, had more trouble than ours
    assert 0.4 < cell.computed / cell.printed < 1.6


def test_half_of_the_printed_savings_are_met_within_a_fifth() -> None:
    # the methods page says so; the cells that a value was chosen by are not counted
    assert sum(abs(cell.computed / cell.printed - 1.0) < 0.2 for cell in FREE) >= 6


def test_out_of_bounds_share_of_the_tree_lined_default() -> None:
    # Broadie & Ko 2009: 4.4 % out of bounds at 7.9 degrees, 2 % at 5.9 (second-hand); our course was set to lie near
    wide, narrow = (expected_strokes(drives(225, sd), TREE_LINED_COURSE, "100").out_share for sd in (7.9, 5.9))
    assert wide == pytest.approx(0.044, abs=0.01)
    assert narrow == pytest.approx(0.020, abs=0.006)


@pytest.mark.parametrize("row", range(4))
@pytest.mark.parametrize(("width_yd", "printed"), [(32.0, (0.56, 0.51, 0.45, 0.40)), (36.0, (0.61, 0.56, 0.50, 0.44))])
def test_fairway_hit_share_by_skill_group(row: int, width_yd: float, printed: tuple[float, ...]) -> None:
    # Broadie 2008, table 1 (second-hand): direction SD and distance of each group; shares of the normal model (derived)
    group = published_table("broadie2008_skill_groups").row(row, named=True)
    pattern = replace(drives(group["d75_yd"], group["sd_dir_deg"], 0.0), total_sd_m=0.01)
    found = expected_strokes(pattern, Course("one", (TeeShot(400.0, width_yd * YD),)), "tour")
    exact = 2.0 * norm.cdf(np.degrees(np.arctan(width_yd / 2.0 / group["d75_yd"])) / group["sd_dir_deg"]) - 1.0
    assert found.fairway_share == pytest.approx(exact, abs=1e-3)
    assert found.fairway_share == pytest.approx(printed[row], abs=0.0075)


def test_break_even_of_ten_yards_flips_with_the_trees() -> None:
    # 1.5 to 2.2 degrees with rough only (derived), about .2 among trees for an 80-golfer: .25/1.1 (Broadie & Ko, second-hand)
    golfer, scale = drives(250.6, 5.5), SpeedScale(44.0, 5.5)
    gain = 10 * YD / 5.5
    among_trees = scatter_price_deg([(golfer, scale)], TREE_LINED_COURSE, "80", gain)[0]
    in_rough = scatter_price_deg([(golfer, scale)], rough_only(CLUB_LENGTHS, 36), "80", gain)[0]
    assert among_trees is not None
    assert in_rough is not None
    assert 0.1 < among_trees < 0.6
    assert in_rough > 1.5


@pytest.mark.parametrize("lie", ["tee", "fairway", "rough"])
def test_beyond_the_printed_rows_the_last_slope_goes_on(lie: str) -> None:
    """[Broadie2012], table 9 ends at 600 yd; between the last two rows and beyond them strokes rise alike."""
    at = np.array([580.0, 600.0, 620.0, 680.0]) * 0.9144
    first, second, beyond, far = strokes_to_hole_out(at, lie)
    assert second > first
    assert beyond - second == pytest.approx(second - first, rel=1e-9)
    assert far - second == pytest.approx(4 * (second - first), rel=1e-9)
