"""Sizes of every probability and verdict of a trial, on simulated trials with known truth; and how long an analysis takes.

2,000 trials a cell: standard error of a share at most .011. A player of CV 1.5 %, correlation of neighbours .15, session SD
0.7 %, drift, left-right SD 13 m at 215 m, on the tree-lined course, 40 shots an arm on two days unless said otherwise.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from multiprocessing import get_context

import numpy as np
import pytest
from statsmodels.regression.linear_model import GLSAR

from pipelines.measures.trial.analysis import TrialAnalysis, trial_analysis
from pipelines.measures.trial.cost import CourseCost
from pipelines.measures.trial.design import trial_design
from pipelines.measures.trial.noise import PlayerNoise
from pipelines.measures.trial.regression import EffectPrior, TrialLayout, arm_effects
from pipelines.measures.trial.shots import TrialQuestion
from schemas.course import OPEN_COURSE, TREE_LINED_COURSE
from tests.reference.simulated_trials import TrueChange, autoregression, first_rounds, simulated_trial

pytestmark = pytest.mark.benchmark

TRIALS = 2000
ARMS = ("normal", "changed")
QUESTION = TrialQuestion("t", "p", "wider stance", "normal", ARMS)
MARKED = frozenset(f"day-{n}" for n in range(1, 9))
TREES = {"tree-lined": CourseCost(TREE_LINED_COURSE, "80", 18.0)}
CLEAN, MISSED = PlayerNoise(), PlayerNoise(mishit_rate=0.08)


def tell(text: str) -> None:
    sys.stdout.write(text + "\n")


@dataclass(frozen=True)
class Cell:
    """One scenario with what must hold: least and most share of a word."""

    name: str
    noise: PlayerNoise
    change: TrueChange
    shots: int
    least: dict[str, float]
    most: dict[str, float]


CELLS = (
    Cell("no effect", CLEAN, TrueChange(), 40, {}, {"keep or go back": 0.05}),
    Cell("no effect, 8 % mishits", MISSED, TrueChange(), 40, {}, {"keep or go back": 0.05}),
    Cell("+2 % speed", CLEAN, TrueChange(2.0), 40, {"keep": 0.85}, {"go back": 0.05}),
    Cell("+2 % speed, 8 % mishits", MISSED, TrueChange(2.0), 40, {"keep": 0.83}, {"go back": 0.05}),
    Cell("+2 % speed, scatter doubled", CLEAN, TrueChange(2.0, 2.0), 40, {"go back": 0.80}, {"keep": 0.03}),
    Cell("+2 % speed, scatter doubled, 8 % mishits", MISSED, TrueChange(2.0, 2.0), 40, {"go back": 0.80}, {"keep": 0.03}),
    Cell("+4 %, scatter doubled, 10 shots an arm", CLEAN, TrueChange(4.0, 2.0), 10, {"keep testing": 0.90}, {"keep": 0.03}),
    Cell("-2 % speed", CLEAN, TrueChange(-2.0), 40, {"go back": 0.80}, {"keep": 0.01}),
    Cell("no effect, but .7 % from day to day", CLEAN, TrueChange(day_pct=0.7), 40, {}, {"keep or go back": 0.05}),
    Cell("+2 %, .7 % from day to day", CLEAN, TrueChange(2.0, day_pct=0.7), 40, {}, {"go back": 0.05}),
)


def analysed(noise: PlayerNoise, change: TrueChange, shots: int, seed: int, rounds: int | None = None) -> TrialAnalysis:
    rng = np.random.default_rng(seed)
    design = trial_design(ARMS, "normal", shots, seed)
    frame = simulated_trial(design, noise, {"changed": change}, rng)
    seen = frame if rounds is None else first_rounds(design, frame, rounds)
    return trial_analysis(
        seen, QUESTION, TREES, "tree-lined", rng, warm_up_sessions=MARKED, metrics=("club_speed_mps",)
    )  # fmt: skip


def word(found: TrialAnalysis) -> str:
    return found.verdicts["changed"].word if found.verdicts else "statement"


@pytest.mark.parametrize("cell", CELLS, ids=lambda cell: cell.name)
def test_verdicts(cell: Cell):
    words: Counter[str] = Counter()
    inside = 0
    for seed in range(TRIALS):
        found = analysed(cell.noise, cell.change, cell.shots, seed)
        words[word(found)] += 1
        effect = found.effect("changed", "club_speed_mps")
        assert effect is not None
        inside += effect.low <= cell.change.speed_pct / 100 * cell.noise.club_speed_mps <= effect.high
    shares = {name: count / TRIALS for name, count in words.items()}
    shares["keep or go back"] = shares.get("keep", 0.0) + shares.get("go back", 0.0)
    shown = ", ".join(f"{name} {shares.get(name, 0.0):.3f}" for name in ("keep", "keep testing", "go back"))
    tell(f"\n{cell.name}: {shown}; 90 % interval of speed covers {inside / TRIALS:.3f}")
    assert all(shares.get(name, 0.0) >= share for name, share in cell.least.items())
    assert all(shares.get(name, 0.0) <= share for name, share in cell.most.items())
    if cell.shots == 40:  # wider than 90 % where every day is alike: two days cannot show that they are
        assert inside / TRIALS >= 0.87
        assert cell.change.day_pct == 0.0 or inside / TRIALS <= 0.93


@pytest.mark.parametrize("day_pct", [0.0, 0.7])
@pytest.mark.parametrize("noise", [CLEAN, MISSED], ids=["clean", "8 % mishits"])
def test_without_effect_a_look_after_every_round_ends_in_keep_or_go_back_at_most_one_in_twenty(
    noise: PlayerNoise, day_pct: float
):
    ever = 0
    for seed in range(TRIALS):
        change = TrueChange(day_pct=day_pct)
        looks = (word(analysed(noise, change, 40, seed, rounds)) for rounds in (*range(2, 8), None))
        ever += any(one in {"keep", "go back"} for one in looks)
    tell(f"\nlooked at after every round, {day_pct} % from day to day: {ever / TRIALS:.3f}")
    assert ever / TRIALS <= 0.05


def true_strokes(noise: PlayerNoise, change: TrueChange, cost: CourseCost, z: np.ndarray, odd: np.ndarray) -> float:
    """Strokes per tee shot of the simulated truth, by brute force on the same grid that the analysis uses."""
    rate = noise.mishit_rate + change.more_mishits
    carry_sd = np.hypot(noise.carry_sd_m * change.long_short, noise.carry_m * 1.25 * noise.speed_cv_pct / 100)
    carry = noise.carry_m * (1 + 1.25 * change.speed_pct / 100) + carry_sd * z[:, 0]
    side = noise.offline_sd_m * change.left_right * z[:, 1]
    bad = odd < rate
    carry = np.where(bad, noise.carry_m * (0.70 + 0.12 * z[:, 0]), carry)
    return float(cost.at(carry, np.where(bad, 2.5 * side, side)).mean())


@pytest.mark.parametrize("day_pct", [0.0, 0.7])
@pytest.mark.parametrize("noise", [CLEAN, MISSED], ids=["clean", "8 % mishits"])
def test_coverage_of_strokes_scatter_and_speed_over_random_truths(noise: PlayerNoise, day_pct: float):
    # truths: speed N(0, 2 %), log scatter N(0, .25), mishits more or fewer by up to 3 points
    rng = np.random.default_rng(77)
    z, odd = rng.standard_normal((20_000, 2)), rng.random(20_000)
    inside = Counter[str]()
    for seed in range(TRIALS):
        more = rng.uniform(-0.03, 0.03) if noise.mishit_rate else 0.0
        speed, wide = 2 * rng.standard_normal(), float(np.exp(0.25 * rng.standard_normal()))
        change = TrueChange(speed, wide, more_mishits=more, day_pct=day_pct)
        found = analysed(noise, change, 40, seed)
        grids = [_grid(found, arm) for arm in range(2)]
        truth = 14 * (true_strokes(noise, change, grids[1], z, odd) - true_strokes(noise, TrueChange(), grids[0], z, odd))
        low, high = found.strokes["tree-lined"][1].interval()
        inside["strokes"] += low <= truth <= high
        ratio = found.patterns[1].left_right
        assert ratio is not None
        inside["scatter"] += ratio.interval()[0] <= change.left_right <= ratio.interval()[1]
        effect = found.effect("changed", "club_speed_mps")
        assert effect is not None
        inside["speed"] += effect.low <= change.speed_pct * 0.45 <= effect.high
    shares = {name: count / TRIALS for name, count in inside.items()}
    tell(f"\n{day_pct} % from day to day: 90 % intervals cover {shares}")
    assert all(0.87 <= share <= (0.99 if name == "speed" else 0.93) for name, share in shares.items())


def _grid(found: TrialAnalysis, arm: int):
    pattern = found.patterns[arm]
    rate = (1.0 + pattern.n_mishits) / (13.0 + pattern.n)
    return TREES["tree-lined"].grid(pattern.carry_m, pattern.carry_sd_m, pattern.offline_sd_m, rate)


POWER = [(1.5, 1, 20, 0.48), (1.5, 1, 40, 0.78), (1.5, 2, 20, 0.96), (1.0, 1, 20, 0.82), (2.0, 1, 40, 0.56), (2.0, 2, 20, 0.80)]


def blocked(cv: float, gain: float, n: int, rng: np.random.Generator) -> tuple[np.ndarray, TrialLayout]:
    """One session in random blocks of five, correlation .1, tiring by 1.5 % over 40 shots and a cold start of 1.5 %."""
    arm = np.concatenate([np.repeat(rng.permutation(2), 5) for _ in range(n // 5)])
    shot = np.arange(2 * n)
    layout = TrialLayout(arm, np.zeros(2 * n, dtype=np.int64), shot // 5, np.linspace(-1, 1, 2 * n), 2)
    return cv * autoregression(2 * n, 0.1, rng) - 1.5 * shot / 40 - 1.5 * np.exp(-shot / 5) + gain * arm, layout


@pytest.mark.parametrize(("cv", "gain", "n", "printed"), POWER)
def test_power_table_by_its_own_method(cv: float, gain: float, n: int, printed: float):
    # generalised least squares with trend and estimated correlation, two-sided .05, as the printed table (800 runs, se .018)
    rng = np.random.default_rng(5)
    hits = 0
    for _ in range(800):
        y, layout = blocked(cv, gain, n, rng)
        design = np.column_stack([np.ones(2 * n), layout.position, layout.position**2, layout.arm])
        fitted = GLSAR(y, design, rho=1).iterative_fit(maxiter=4)
        hits += abs(fitted.tvalues[3]) > 1.96
    tell(f"\nGLS: CV {cv} %, +{gain} %, {n} an arm: {hits / 800:.2f} (printed {printed:.2f})")
    assert hits / 800 == pytest.approx(printed, abs=0.075)


@pytest.mark.parametrize(("cv", "gain", "n", "printed"), [*POWER, (1.5, 0, 20, 0.05), (1.5, 0, 40, 0.05)])
def test_our_own_analysis_keeps_its_size_and_most_of_that_power(cv: float, gain: float, n: int, printed: float):
    # the printed method finds something in .07 to .08 of trials without effect; ours in at most .05, at the price of power
    rng = np.random.default_rng(5)
    hits = 0
    for _ in range(800):
        y, layout = blocked(cv, gain, n, rng)
        effect = arm_effects(y, layout, EffectPrior(3.0, 2.0))
        assert effect is not None
        above = effect.arm(1).above(0.0)
        hits += above > 0.975 or above < 0.025
    tell(f"\nours: CV {cv} %, +{gain} %, {n} an arm: {hits / 800:.2f} (printed {printed:.2f})")
    assert hits / 800 <= printed + 0.03
    assert hits / 800 >= printed - 0.15


def full(seed: int) -> float:
    """One whole analysis: all measurements, both default courses."""
    rng = np.random.default_rng(seed)
    design = trial_design(ARMS, "normal", 40, seed)
    frame = simulated_trial(design, MISSED, {"changed": TrueChange(1.0)}, rng)
    names = (
        "attack_deg",
        "path_deg",
        "face_deg",
        "loft_deg",
        "launch_deg",
        "direction_deg",
        "spin_rpm",
        "strike_side_mm",
        "strike_height_mm",
    )
    import polars as pl  # noqa: PLC0415 - a worker process loads it once

    frame = frame.with_columns(
        *(pl.Series(name, rng.normal(2, 1.5, len(frame))) for name in names), ball_speed_mps=pl.col("club_speed_mps") * 1.45
    )
    courses = {course.name: CourseCost(course, "80", 18.0) for course in (OPEN_COURSE, TREE_LINED_COURSE)}
    began = time.perf_counter()
    trial_analysis(frame, QUESTION, courses, "tree-lined", rng, warm_up_sessions=MARKED)
    return time.perf_counter() - began


def test_two_hundred_trials_take_less_than_a_minute_on_two_cores():
    began = time.perf_counter()
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        each = list(pool.map(full, range(200), chunksize=20))
    took = time.perf_counter() - began
    tell(f"\n200 trials: {took:.1f} s on two cores; {1000 * np.median(each):.0f} ms each")
    assert took < 60
