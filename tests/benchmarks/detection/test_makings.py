"""False alerts, coverage and detection on squads of eight makings; squads with a block, and with a device that moved.

Limits were chosen on seeds 101 to 106; what is reported was drawn after that, with seeds 201 and up. The measures are called as
the night calls them, from session summaries on: what an intake adds is tested elsewhere. ``make bench`` prints the tables.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

import numpy as np
import polars as pl
import pytest

from pipelines.measures.flags.chart_rules import chart_candidates, players_judged, stall_candidates
from pipelines.measures.flags.device_rules import device_candidates
from pipelines.measures.flags.engine import flag_history
from pipelines.measures.flags.state import AlertPolicy
from pipelines.measures.summary import session_summary
from pipelines.measures.trend.assembly import trends
from reports.findings.trend import CLEAR
from schemas.core.summaries import SCATTER_METRICS, SUMMARY_METRICS
from tests.benchmarks.detection.makings import MAKINGS, START, STEP, Made, Making, Truth, made, with_device

UNLIMITED = 100_000
DAYS_PER_MONTH = 365.25 / 12.0
DETECTED = {
    "drift": ("speed_fall", 60),
    STEP: ("speed_fall", 60),
    "plateau": ("speed_stall", 56),
    "scatter": ("scatter_rise", 28),
    "wild": ("wild_rise", 60),
}
FALSE_OF_EVENT = {
    "drift": {"speed_fall"},
    STEP: {"speed_fall"},
    "plateau": {"speed_rise", "speed_stall"},
    "scatter": {"scatter_rise"},
    "wild": {"wild_rise", "scatter_rise"},
}
SEASON_FROM = 365
"""A season term needs a year: of the making with a season, what is said before is not counted."""


@dataclass(frozen=True)
class Said:
    """What is said of one squad: points of club speed, alerts, and suspicions of devices."""

    squad: Made
    points: pl.DataFrame
    alerts: pl.DataFrame
    shifts: tuple[object, ...]


def said_of(squad: Made) -> Said:
    day = pl.col("started_at").dt.date().alias("on_date")
    of_session = squad.sessions.select("session_id", day, pl.col("kind").alias("session_kind"), "device_id", "ball", "indoors")
    ratio = (pl.col("ball_speed_mps") / pl.col("club_speed_mps")).alias("speed_ratio")
    shots = squad.shots.join(of_session, on="session_id").with_columns(ratio, club_group=pl.lit("driver"))
    missing = [pl.lit(None, dtype=pl.Float64).alias(name) for name in SUMMARY_METRICS if name not in shots.columns]
    summary = session_summary(shots.with_columns(missing), tuple(SUMMARY_METRICS), SCATTER_METRICS)
    found = trends(summary, {truth.player_id: truth.birth_year for truth in squad.truths})
    rows = [
        chart_candidates(found.points, players_judged(found.points)),
        stall_candidates(found.points, players_judged(found.points)),
        device_candidates(found.device_shifts),
    ]
    last = START + dt.timedelta(days=squad.making.n_days)
    flags = flag_history(pl.concat(rows), last, AlertPolicy(0.10, UNLIMITED)).flags
    speed = found.points.filter(pl.col("metric") == "club_speed_mps").sort("player_id", "on_date", "session_id")
    alerts = flags.filter(pl.col("level") == "alert", pl.col("player_id") != "")
    return Said(squad, speed, alerts, found.device_shifts)


def held(said: Said, within: int | None = None, events: tuple[str, ...] | None = None) -> tuple[float, float, int]:
    """Share of 90 % intervals of level and of change that hold the truth, after the learning; ``within``: days since onset."""
    truths = {truth.player_id: truth for truth in said.squad.truths}
    of_level, of_change = [], []
    for (player_id,), rows in said.points.group_by("player_id", maintain_order=True):
        truth = truths[str(player_id)]
        if events is not None and truth.event not in events:
            continue
        day = (rows["on_date"] - START).dt.total_days().to_numpy()
        level, base = 100.0 * truth.level[day], 100.0 * np.log(truth.base)
        before = 100.0 * truth.level[np.maximum(day - 28, 0)]
        kept = (rows["usual_n"] >= 8).to_numpy()
        if within is not None:
            kept &= (day >= truth.onset) & (day < truth.onset + within)
        of_level.append((np.abs(rows["level"].to_numpy() - level - base) <= rows["level_half"].to_numpy())[kept])
        change, half = rows["change_28"].to_numpy(), rows["change_half"].to_numpy()
        told = kept & ~np.isnan(change)
        of_change.append((np.abs(change - (level - before)) <= half)[told])
    return float(np.mean(np.concatenate(of_level))), float(np.mean(np.concatenate(of_change))), sum(map(len, of_level))


def verdicts(said: Said) -> tuple[float, float, int]:
    """Of points whose change a page would call clear: share beyond the smallest worthwhile change, share of that direction, n."""
    truths = {truth.player_id: truth.level for truth in said.squad.truths}
    points = said.points.filter(pl.col("usual_n") >= 8, pl.col("change_28").is_not_nan())
    day = (points["on_date"] - START).dt.total_days().to_numpy()
    was = [100.0 * (truths[one][on] - truths[one][max(on - 28, 0)]) for one, on in zip(points["player_id"], day, strict=True)]
    change, half, limit = (points[name].to_numpy() for name in ("change_28", "change_half", "worthwhile"))
    p_up, p_down = points["p_above"].to_numpy(), points["p_below"].to_numpy()
    clear = (p_up >= CLEAR) & (change > half) | (p_down >= CLEAR) & (change < -half)
    if said.squad.making.season:
        clear &= day >= SEASON_FROM
    toward = (np.sign(change) * np.array(was))[clear]
    return float(np.mean(toward > limit[clear])), float(np.mean(toward > 0.25 * limit[clear])), int(clear.sum())


def false_alerts(said: Said) -> float:
    """Of players without any event, a player and month."""
    first = SEASON_FROM if said.squad.making.season else 0
    quiet = [truth.player_id for truth in said.squad.truths if truth.event == ""]
    counted = pl.col("player_id").is_in(quiet) & (pl.col("alerted_on") >= START + dt.timedelta(days=first))
    return said.alerts.filter(counted).height / (len(quiet) * (said.squad.making.n_days - first) / DAYS_PER_MONTH)


def detection(said: Said, event: str) -> tuple[float, float, float, int]:
    """Recall of the event within its window, precision of its kind over all events that make it true, F1, how many events."""
    kind, window = DETECTED[event]
    first = START + dt.timedelta(days=SEASON_FROM if said.squad.making.season else 0)
    mine = said.alerts.filter(pl.col("kind") == kind, pl.col("alerted_on") >= first)
    hits, true, false, n = 0, 0, 0, 0
    for truth in said.squad.truths:
        own = mine.filter(pl.col("player_id") == truth.player_id)["alerted_on"].to_list()
        n += truth.event == event
        hits += truth.event == event and any(0 <= (on - truth.onset_on).days <= window for on in own)
        right = [kind in FALSE_OF_EVENT.get(truth.event, ()) and on >= truth.onset_on for on in own]
        true, false = true + any(right), false + right.count(False)
    recall, precision = hits / n, true / (true + false) if true + false else float("nan")
    return recall, precision, 2 * recall * precision / (recall + precision) if hits else 0.0, n


def told(text: str) -> None:
    print(text)  # noqa: T201 - a benchmark shows its figures


@pytest.mark.benchmark
@pytest.mark.parametrize("name", list(MAKINGS))
def test_makings(name: str) -> None:
    number = list(MAKINGS).index(name)
    said = said_of(made(MAKINGS[name], 201 + number))
    false = false_alerts(said)
    level, change, n = held(said)
    step_level, step_change, n_step = held(said, 14, (STEP,))
    told(f"\n{name}, seed {201 + number}, 200 players, {said.squad.making.n_days} days: false alerts {false:.4f} a player-month")
    told(f"  90 % intervals hold: level {level:.3f}, change {change:.3f} of {n}")
    told(f"  in the 14 days after a step: level {step_level:.3f}, change {step_change:.3f} of {n_step}")
    beyond, toward, n_clear = verdicts(said)
    told(f"  called clear: {n_clear} points, true beyond what matters {beyond:.2f}, of that direction {toward:.2f}")
    for event in DETECTED:
        recall, precision, f1, n_events = detection(said, event)
        told(f"  {event}: recall {recall:.2f}, precision {precision:.2f}, F1 {f1:.2f} of {n_events}")
    assert false <= 0.03
    assert 0.85 <= level <= 0.96
    assert 0.85 <= change <= 0.97
    assert n_clear < 50 or toward >= 0.80  # irregular players are seldom called anything


BLOCK = Making("block on one device", n_days=160)
N_SQUADS, N_OF_SQUAD = 10, 40


@pytest.mark.benchmark
def test_a_block_that_lifts_most_players_is_not_a_device() -> None:
    """Three in four gain 3 % in eight weeks on one device, one in four does not train."""
    held_gains, untouched, cut = [], 0, 0
    for seed in range(301, 301 + N_SQUADS):
        said = said_of(made(BLOCK, seed, N_OF_SQUAD, ("block", "block", "block", "")))
        held_gains.append(held(said, 60, ("block",))[0])
        quiet = [truth.player_id for truth in said.squad.truths if truth.event == ""]
        untouched += said.alerts.filter(pl.col("player_id").is_in(quiet)).height
        cut += int((said.points["offset"] != 0.0).any())
    told(f"\nblock, {N_SQUADS} squads of {N_OF_SQUAD}: levels in their 90 % intervals {np.mean(held_gains):.3f}")
    told(f"  alerts of untouched players {untouched}; squads with something taken off {cut}")
    assert np.mean(held_gains) >= 0.85
    assert cut == 0


@pytest.mark.benchmark
@pytest.mark.parametrize("way", ["two bays", "one reading"])
def test_a_device_that_moved_is_named(way: str) -> None:
    """2 % on one of two bays that players share, or of club speed alone on a single device."""
    named, held_levels, untouched = 0, [], 0
    for seed in range(401, 401 + N_SQUADS):
        said = said_of(with_device(made(BLOCK, seed, N_OF_SQUAD, ("",)), way, seed))
        named += any(getattr(shift, "cause", "") == "device" for _, shift in said.shifts)  # type: ignore[misc]
        held_levels.append(held(said)[0])
        untouched += said.alerts.filter(pl.col("kind").is_in(["speed_fall", "speed_rise"])).height
    told(f"\ndevice moved ({way}), {N_SQUADS} squads of {N_OF_SQUAD}: named in {named}")
    told(f"  levels in their 90 % intervals {np.mean(held_levels):.3f}; speed alerts {untouched}")
    assert named >= 9
    assert np.mean(held_levels) >= 0.85


def test_small_squads_of_a_block_and_of_a_device() -> None:
    """Regression, seeded: nothing is taken off for training, and a device that moved is named."""
    block = said_of(made(BLOCK, 11, 16, ("block", "block", "block", "")))
    assert (block.points["offset"] == 0.0).all()
    moved = said_of(with_device(made(BLOCK, 12, 16, ("",)), "one reading", 12))
    assert {shift.cause for _, shift in moved.shifts if shift.device_id == "bay-1"} >= {"device"}  # type: ignore[misc, attr-defined]


def test_the_truth_of_a_making_is_the_one_that_its_shots_have() -> None:
    squad = made(MAKINGS["juniors"], 5, 10, ("drift",))
    speed = squad.shots.join(squad.sessions, on="session_id").with_columns(
        day=(pl.col("started_at").dt.date() - START).dt.total_days()
    )
    truth: Truth = squad.truths[0]
    mine = speed.filter(player_id=truth.player_id)
    expected = truth.base * np.exp(truth.level[mine["day"].to_numpy()])
    assert np.log(mine["club_speed_mps"].to_numpy() / expected).mean() == pytest.approx(0.0, abs=0.003)
