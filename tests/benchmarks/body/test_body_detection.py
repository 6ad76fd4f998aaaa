"""Detection of stiffness, load jumps and signs together on simulated squads; `-s` prints the table.

The settings were chosen on other seeds (101 to 103, 201, 202) than those reported here (1, 2, 3).
"""

from __future__ import annotations

import datetime as dt
import sys
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
import pytest

from tests.benchmarks.body.definition import day_jumps, week_jumps
from tests.benchmarks.body.score import DAYS_PER_MONTH, Found, alarms_at, alarms_of, false_alerts, found, stiffness_score
from tests.benchmarks.body.squad import DECOYS, START, BodySquad, body_squad

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.benchmark
SEEDS = (1, 2, 3)


def tell(line: str) -> None:
    """A line of the table that `-s` shows."""
    sys.stdout.write(f"{line}\n")


def _all(tmp_path: Path, regions: tuple[str, ...] | None = None) -> list[tuple[BodySquad, Found]]:
    pairs = []
    for seed in SEEDS:
        squad = body_squad(seed) if regions is None else body_squad(seed, regions=regions)
        folder = tmp_path / f"seed{seed}"
        folder.mkdir()
        pairs.append((squad, found(squad, folder)))
    return pairs


@pytest.fixture(scope="module")
def thirteen(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[BodySquad, Found]]:
    return _all(tmp_path_factory.mktemp("thirteen"))


@pytest.fixture(scope="module")
def one(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[BodySquad, Found]]:
    return _all(tmp_path_factory.mktemp("one"), ("lower_back",))


@pytest.mark.parametrize("which", ["one", "thirteen"])
def test_stiffness(which: str, request: pytest.FixtureRequest) -> None:
    pairs = request.getfixturevalue(which)
    for level in ("notice", "alert"):
        scores = [stiffness_score(alarms_of(night.flags, "body_stiff", level), squad) for squad, night in pairs]
        mean = {
            name: float(np.mean([getattr(score, name) for score in scores]))
            for name in ("recall", "recall_with_lead", "precision", "median_lead", "false_per_month")
        }
        tell(f"\n{which} region(s), {level}: " + ", ".join(f"{name} {value:.3f}" for name, value in mean.items()))
        # With thirteen regions asked there are thirteen chances of a false alarm, so the same share of false ones costs recall.
        assert mean["recall"] >= (0.80 if which == "one" else 0.62)
        assert mean["median_lead"] >= (4 if which == "one" else 3)
        assert mean["precision"] >= 0.60


def test_operating_curve(thirteen: list[tuple[BodySquad, Found]]) -> None:
    tell("\np        recall (90 % interval)  precision  false a player-month")
    recalls = []
    for p in (5e-5, 1.6e-4, 5e-4, 1.6e-3, 5e-3):
        scores = [stiffness_score(alarms_at(night.candidates, p), squad) for squad, night in thirteen]
        low, high = np.mean([score.recall_interval for score in scores], axis=0)
        recalls.append(np.mean([score.recall for score in scores]))
        precision, false = np.mean([(score.precision, score.false_per_month) for score in scores], axis=0)
        tell(f"{p:<8.1e} {recalls[-1]:.2f} ({low:.2f} to {high:.2f})     {precision:.2f}       {false:.4f}")
    assert recalls == sorted(recalls)


def _swings(load: pl.DataFrame, player_id: str) -> dict[int, int]:
    rows = load.filter(pl.col("player_id") == player_id)
    return {(day - START).days: int(swings) for day, swings in rows.select("on_date", "swings_all").iter_rows()}


def test_load_jumps_are_exactly_their_definition(thirteen: list[tuple[BodySquad, Found]]) -> None:
    squad, night = thirteen[0]
    n_jumps = 0
    for metric, plain in (("day_swings", day_jumps), ("week_swings", week_jumps)):
        rows = night.candidates.filter(pl.col("kind") == "load_jump", pl.col("metric") == metric, "opens")
        said = {(row[0], (row[1] - START).days) for row in rows.select("player_id", "on_date").iter_rows()}
        written = {
            (truth.player_id, day) for truth in squad.truths for day in plain(_swings(night.load, truth.player_id), squad.n_days)
        }
        assert said == written
        n_jumps += len(said)
    stories = {truth.player_id for truth in squad.truths if truth.event == "load"}
    hit = night.flags.filter(pl.col("kind") == "load_jump", pl.col("player_id").is_in(list(stories)))
    by_onset = {truth.player_id: START + dt.timedelta(days=truth.onset) for truth in squad.truths}
    found_in_week = {
        row[0] for row in hit.select("player_id", "raised_on").iter_rows() if 0 <= (row[1] - by_onset[row[0]]).days <= 12
    }
    others = night.flags.filter(pl.col("kind") == "load_jump", ~pl.col("player_id").is_in(list(stories)))
    alerts = others.filter(pl.col("alerted_on").is_not_null())
    months = (len(squad.truths) - len(stories)) * squad.n_days / DAYS_PER_MONTH
    tell(f"\nload jump: {n_jumps} nights, all as defined; 2.2-fold weeks found {len(found_in_week) / len(stories):.2f}")
    tell(f"other players a month: notices {others.height / months:.3f}, alerts {alerts.height / months:.3f}")
    assert len(found_in_week) / len(stories) >= 0.8


def test_signs_together(thirteen: list[tuple[BodySquad, Found]]) -> None:
    recall, delay, false = [], [], []
    for squad, night in thirteen:
        truths = {truth.player_id: truth for truth in squad.truths}
        events = {player for player, truth in truths.items() if truth.event == "overuse"}
        hits: dict[str, int] = {}
        n_false = 0
        for row in night.flags.filter(pl.col("kind") == "overuse_pattern").sort("raised_on").iter_rows(named=True):
            since = (row["raised_on"] - START).days - truths[row["player_id"]].onset
            if row["player_id"] in events and 0 <= since <= 21:
                hits.setdefault(row["player_id"], since)
            elif not (truths[row["player_id"]].event and 0 <= since <= 45):
                n_false += 1
        recall.append(len(hits) / len(events))
        delay.append(float(np.median(list(hits.values()))))
        false.append(n_false / (len(truths) * squad.n_days / DAYS_PER_MONTH))
    tell(
        f"\nsigns together: recall {np.mean(recall):.2f}, median delay {np.mean(delay):.1f} d, false {np.mean(false):.4f} a month"
    )
    assert np.mean(recall) >= 0.8
    assert np.mean(false) <= 0.02


def test_decoys_are_silent_and_all_false_alerts_together_are_few(thirteen: list[tuple[BodySquad, Found]]) -> None:
    total, by_decoy = [], dict.fromkeys(DECOYS, 0.0)
    for squad, night in thirteen:
        months = squad.n_days / DAYS_PER_MONTH
        false = false_alerts(night.flags, squad)
        total.append(false.height / (len(squad.truths) * months))
        players = {decoy: sum(truth.decoy == decoy for truth in squad.truths) for decoy in DECOYS}
        quiet = {truth.player_id: truth.decoy for truth in squad.truths}
        every = night.flags.filter(pl.col("alerted_on").is_not_null())  # facts about load too: a decoy has none to tell
        for decoy in DECOYS:
            n = every.filter(pl.col("player_id").replace_strict(quiet) == decoy).height
            by_decoy[decoy] += n / (players[decoy] * months) / len(thirteen)
    tell(f"\nfalse alerts on the body: {np.mean(total):.4f} a player-month")
    tell("alerts a player-month by decoy: " + ", ".join(f"{name} {rate:.4f}" for name, rate in by_decoy.items()))
    assert np.mean(total) <= 0.03
    assert max(by_decoy.values()) <= 0.05


def test_the_same_night_twice_gives_the_same_flags(tmp_path: Path) -> None:
    squad = body_squad(4, n_players=40)
    (tmp_path / "a").mkdir()
    (tmp_path / "b").mkdir()
    assert found(squad, tmp_path / "a").flags.equals(found(squad, tmp_path / "b").flags)
