"""The whole analysis of one trial, from its counting shots to a verdict for every arm."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from pipelines.measures.trial.arms import ArmPattern, Landing, landing
from pipelines.measures.trial.effects import DoseEffect, Effect, MetricEffects, metric_effects
from pipelines.measures.trial.shots import TrialQuestion, TrialShots, trial_shots
from pipelines.measures.trial.soundness import LEAST_BLOCKS, Soundness, soundness
from pipelines.measures.trial.strokes import StrokesDifference, strokes_differences
from pipelines.measures.trial.verdict import ArmEvidence, BodySide, Chances, Verdict, strokes_chances, verdict
from pipelines.measures.worthwhile import STARTING, WORTHWHILE, Worths

if TYPE_CHECKING:
    from collections.abc import Mapping

    from pipelines.measures.trial.cost import CostModel

SPEED = "club_speed_mps"


@dataclass(frozen=True)
class TrialAnalysis:
    """Everything that one trial says.

    Attributes
    ----------
    question : TrialQuestion
    shots : TrialShots
        Of the arms that can be compared, where any can; else of all.
    soundness : Soundness
    landing : Landing
    effects : dict of str to MetricEffects
        By measurement.
    strokes : dict of str to list of StrokesDifference
        By course, one per arm (normal first).
    verdicts : dict of str to Verdict
        By changed arm; empty where a statement stands in place of a verdict.
    worths : Worths
        What counted as worthwhile.
    """

    question: TrialQuestion
    shots: TrialShots
    soundness: Soundness
    landing: Landing
    effects: dict[str, MetricEffects]
    strokes: dict[str, list[StrokesDifference]]
    verdicts: dict[str, Verdict]
    worths: Worths = STARTING

    @property
    def patterns(self) -> tuple[ArmPattern, ...]:
        """Pattern of every arm, normal first; empty without landing places."""
        return self.landing.patterns

    @property
    def doses(self) -> tuple[DoseEffect, ...]:
        """Change per step of every measurement, where there are three arms or more."""
        return tuple(found.dose for found in self.effects.values() if found.dose is not None)

    def effect(self, arm: str, metric: str) -> Effect | None:
        """Effect of one arm on one measurement."""
        found = self.effects.get(metric)
        return None if found is None else next((effect for effect in found.effects if effect.arm == arm), None)

    @property
    def best_arm(self) -> str | None:
        """The arm that the trial's verdict is about.

        Of the arms to keep the one with the smallest expected strokes; else, of those still tested, the one with the largest
        chance of a worthwhile gain of speed; else the first.
        """
        if not self.verdicts:
            return None
        words = [verdict.word for verdict in self.verdicts.values()]
        wanted = next(word for word in ("keep", "keep testing", "go back") if word in words)
        return max((arm for arm in self.verdicts if self.verdicts[arm].word == wanted), key=self._promise)

    def _promise(self, arm: str) -> float:
        effect = self.effect(arm, SPEED)
        return -1.0 if effect is None else effect.more


def trial_analysis(
    frame: pl.DataFrame,
    question: TrialQuestion,
    costs: Mapping[str, CostModel],
    home: str,
    rng: np.random.Generator,
    *,
    body: BodySide = "unknown",
    warm_up_sessions: frozenset[str] = frozenset(),
    overlapping: bool = False,
    labels: tuple[str, ...] = (),
    metrics: tuple[str, ...] = tuple(WORTHWHILE),
    worths: Worths = STARTING,
) -> TrialAnalysis:
    """Analyse one trial as far as its shots go.

    Parameters
    ----------
    frame : polars.DataFrame
        Counting shots of the trial; see :func:`trial_shots`.
    question : TrialQuestion
    costs : mapping of str to CostModel
        Courses by name.
    home : str
        The course whose strokes decide; one of ``costs``.
    rng : Generator
    body : {"calm", "ask", "unknown"}
        What load and reports of the trial's weeks say.
    warm_up_sessions, overlapping, labels
        See :func:`soundness`.
    metrics : tuple of str
        Measurements to compare; all by default.
    worths : Worths
        What counts as worthwhile.

    Returns
    -------
    TrialAnalysis

    Checked: tests/unit/test_trial_analysis.py, tests/benchmarks/test_trial_sizes.py
    """
    everything = trial_shots(frame, question)
    sound = soundness(
        everything,
        question,
        warm_up_sessions=warm_up_sessions,
        overlapping=overlapping,
        labels=labels,
        speed=worths.by_measurement[SPEED],
    )
    comparable = len(sound.usable) > 1 and question.normal_arm in sound.usable
    left_out = comparable and sound.usable != everything.arms
    shots = trial_shots(frame.filter(pl.col("arm").is_in(list(sound.usable))), question) if left_out else everything
    places = landing(shots)
    effects: dict[str, MetricEffects] = {}
    strokes: dict[str, list[StrokesDifference]] = {}
    if comparable:
        found = {
            metric: metric_effects(shots, question, metric, places.core, rng, worths.by_measurement)
            for metric in metrics
            if shots.measured(metric)
        }
        effects = {metric: effect for metric, effect in found.items() if effect is not None}
        if places.arms:
            by_course = {name: strokes_differences(places.arms, cost, rng) for name, cost in costs.items()}
            strokes = {name: differences for name, differences in by_course.items() if differences is not None}
    analysis = TrialAnalysis(question, shots, sound, places, effects, strokes, {}, worths)
    if sound.statements or SPEED not in effects:
        return analysis
    verdicts = {
        arm: verdict(_evidence(analysis, i, home, body, _days_compared(shots, arm))) for i, arm in enumerate(shots.arms) if i > 0
    }
    return replace(analysis, verdicts=verdicts)


def _days_compared(shots: TrialShots, arm: str) -> int:
    """Days on which both normal and the arm have two blocks or more: one block tells an arm from drift on no day."""
    both = shots.frame.filter(pl.col("arm").is_in([shots.arms[0], arm]))
    blocks = both.group_by("on_date", "arm").agg(pl.col("block_index").n_unique().alias("n"))
    whole = blocks.filter(pl.col("n") >= LEAST_BLOCKS).group_by("on_date").len()
    return whole.filter(pl.col("len") == 2).height


def _evidence(analysis: TrialAnalysis, arm: int, home: str, body: BodySide, n_days: int) -> ArmEvidence:
    speed = analysis.effects[SPEED].effects[arm - 1]
    strokes = analysis.strokes[home][arm] if home in analysis.strokes else None
    counts, worths = np.bincount(analysis.shots.layout.arm), analysis.worths
    ratio = analysis.patterns[arm].left_right if analysis.patterns else None
    return ArmEvidence(
        speed=Chances(speed.more, speed.less, speed.same),
        strokes=None if strokes is None else strokes_chances(strokes.above(worths.strokes), 1.0 - strokes.above(-worths.strokes)),
        wider=None if ratio is None else ratio.above(worths.scatter),
        strokes_worse_at_all=None if strokes is None else strokes.above(0.0),
        speed_is_apart=speed.low > 0.0 or speed.high < 0.0,
        body=body,
        n_days=n_days,
        shots_per_arm=2 / (1 / counts[0] + 1 / counts[arm]),
    )
