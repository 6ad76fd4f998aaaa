"""One analysed trial as rows of the derived tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from pipelines.measures.reach import SURE_AND_LIKELY
from pipelines.measures.trial.analysis import SPEED, TrialAnalysis
from pipelines.measures.trial.power import shots_for_scatter
from pipelines.measures.trial.verdict import SPEED_SURE

if TYPE_CHECKING:
    from pipelines.measures.trial.arms import ArmPattern
    from pipelines.measures.trial.spread import SpreadRatio

Row = dict[str, Any]
SCATTER_QUESTION = 1.5


def ids(analysis: TrialAnalysis) -> Row:
    """The two ids that every row begins with."""
    return {"trial_id": analysis.question.trial_id, "player_id": analysis.question.player_id}


def result_row(analysis: TrialAnalysis, home: str, body_side: str, load_ratio: float | None, *, is_declared: bool) -> Row:
    """The row of ``trial_result`` of a trial that has shots."""
    frame, best = analysis.shots.frame, analysis.best_arm
    verdict = analysis.verdicts[best] if best is not None else None
    clubs = frame["club"].drop_nulls().value_counts(sort=True)
    statements = analysis.soundness.statements or (() if verdict is not None else ("no_speed",))
    return ids(analysis) | {
        "question": analysis.question.question,
        "normal_arm": analysis.question.normal_arm,
        "arms": list(analysis.question.arms),
        "is_declared": is_declared,
        "began_on": frame["on_date"].min(),
        "last_on": frame["on_date"].max(),
        "n_shots": len(frame),
        "n_days": frame["on_date"].n_unique(),
        "club": clubs["club"][0] if len(clubs) else None,
        "state": "statement" if statements else "verdict",
        "statements": list(statements),
        "notes": list(analysis.soundness.notes),
        "best_arm": best,
        "verdict": verdict.word if verdict else None,
        "reason": verdict.reason if verdict else None,
        "speed_side": verdict.speed if verdict else None,
        "strokes_side": verdict.strokes if verdict else None,
        "scatter_side": verdict.scatter if verdict else None,
        "body_side": body_side,
        "load_ratio": load_ratio,
        "home_course": home,
        "speed_cv_pct": _speed_cv_pct(frame),
        **_what_more(analysis, best, home),
    }


def _speed_cv_pct(frame: pl.DataFrame) -> float | None:
    speed = pl.col("club_speed_mps")
    cells = frame.drop_nulls("club_speed_mps").group_by("session_id", "arm").agg(speed.var().alias("v"), pl.len().alias("n"))
    cells = cells.filter(pl.col("n") > 1).sort("session_id", "arm")  # sums of one order give the same last digit every night
    degrees = float(cells.select((pl.col("n") - 1).sum()).item() or 0)
    if degrees < 4:
        return None
    variance = float(cells.select((pl.col("v") * (pl.col("n") - 1)).sum()).item()) / degrees
    return float(100 * np.sqrt(variance) / float(frame.select(speed.mean()).item()))


def _what_more(analysis: TrialAnalysis, best: str | None, home: str) -> Row:
    """How many further shots an arm settle speed and scatter, and what ten more are worth."""
    if best is None:
        return {"more_for_speed": None, "more_for_scatter": None, "value_of_more": None}
    at = analysis.shots.arms.index(best)
    counts = np.bincount(analysis.shots.layout.arm)
    per_arm = 2 / (1 / counts[0] + 1 / counts[at])
    speed = analysis.effect(best, SPEED)
    cv = _speed_cv_pct(analysis.shots.frame)
    settled = speed is not None and max(speed.more, speed.less, speed.same) > SPEED_SURE
    wanted = None if cv is None else 2 * (cv * SURE_AND_LIKELY / analysis.worths.speed_pct) ** 2
    missed = sum(pattern.n_mishits for pattern in analysis.patterns) / max(sum(p.n for p in analysis.patterns), 1)
    scatter = shots_for_scatter(SCATTER_QUESTION, missed) if analysis.patterns else None
    strokes = analysis.strokes.get(home)
    return {
        "more_for_speed": 0 if settled else None if wanted is None else max(int(np.ceil(wanted - per_arm)), 5),
        "more_for_scatter": None if scatter is None else max(int(np.ceil(scatter - per_arm)), 0),
        "value_of_more": None if strokes is None else strokes[at].value_of_more(10),
    }


def arm_rows(analysis: TrialAnalysis, everything: pl.DataFrame) -> list[Row]:
    """The rows of ``trial_arm``; ``everything`` holds the shots of all arms, also those too few to compare."""
    patterns = {pattern.arm: pattern for pattern in analysis.patterns}
    rows = []
    for arm in analysis.question.arms:
        own = everything.filter(pl.col("arm") == arm)
        verdict = analysis.verdicts.get(arm)
        rows.append(
            ids(analysis)
            | {
                "arm": arm,
                "amount": analysis.question.amount(arm) if analysis.question.normal_arm in analysis.question.arms else 0,
                "is_normal": arm == analysis.question.normal_arm,
                "is_compared": bool(analysis.effects) and arm in analysis.soundness.usable,
                "n_shots": len(own),
                "n_blocks": own["block_index"].n_unique(),
                "club_speed_mps": own["club_speed_mps"].mean(),
                "verdict": verdict.word if verdict else None,
                "reason": verdict.reason if verdict else None,
                "speed_side": verdict.speed if verdict else None,
                "strokes_side": verdict.strokes if verdict else None,
                "scatter_side": verdict.scatter if verdict else None,
                **_pattern(patterns.get(arm), analysis.worths.scatter),
            }
        )
    return rows


def _pattern(pattern: ArmPattern | None, worth: float) -> Row:
    if pattern is None:
        return {"n_landed": 0, "n_mishits": 0}
    rate = pattern.mishits
    return {
        "n_landed": pattern.n,
        "n_mishits": pattern.n_mishits,
        "mishit_rate": rate.rate if rate else None,
        "mishit_low": rate.low if rate else None,
        "mishit_high": rate.high if rate else None,
        "carry_m": pattern.carry_m,
        "offline_m": pattern.offline_m,
        "carry_sd_m": pattern.carry_sd_m,
        "offline_sd_m": pattern.offline_sd_m,
        "ellipse_long_m": pattern.ellipse.long_half,
        "ellipse_short_m": pattern.ellipse.short_half,
        "ellipse_tilt_deg": pattern.ellipse.tilt_deg,
        **_ratio("left_right", pattern.left_right),
        **_ratio("long_short", pattern.long_short),
        "left_right_wider": pattern.left_right.above(worth) if pattern.left_right else None,
        "left_right_worthwhile": worth,
    }


def _ratio(name: str, found: SpreadRatio | None) -> Row:
    low, high = found.interval() if found else (None, None)
    return {f"{name}_ratio": found.ratio if found else None, f"{name}_low": low, f"{name}_high": high}


def effect_rows(analysis: TrialAnalysis) -> list[Row]:
    """The rows of ``trial_effect``."""
    return [
        ids(analysis)
        | {name: getattr(effect, name) for name in _EFFECT}
        | {
            "difference": effect.randomisation.difference if effect.randomisation else None,
            "p_value": effect.randomisation.p_value if effect.randomisation else None,
            "smallest_p": effect.randomisation.smallest_p if effect.randomisation else None,
            "n_orders": effect.randomisation.n_orders if effect.randomisation else None,
        }
        for found in analysis.effects.values()
        for effect in found.effects
    ]


_EFFECT = ("arm", "metric", "n", "level", "worthwhile", "mean", "low", "high", "more", "less", "same", "is_delivery")


def dose_rows(analysis: TrialAnalysis) -> list[Row]:
    """The rows of ``trial_dose``."""
    return [
        ids(analysis) | {"metric": dose.metric, "mean": dose.mean, "low": dose.low, "high": dose.high, "rising": dose.rising}
        for dose in analysis.doses
    ]


def strokes_rows(analysis: TrialAnalysis, home: str, tee_shots: dict[str, int]) -> list[Row]:
    """The rows of ``trial_strokes``."""
    rows = []
    for course, differences in analysis.strokes.items():
        for arm, strokes in zip(analysis.shots.arms[1:], differences[1:], strict=True):
            low, high = strokes.interval()
            rows.append(
                ids(analysis)
                | {
                    "arm": arm,
                    "course": course,
                    "is_home": course == home,
                    "tee_shots": tee_shots[course],
                    "per_tee_shot": strokes.level,
                    "mean": strokes.mean,
                    "low": low,
                    "high": high,
                    "worse": strokes.above(analysis.worths.strokes),
                    "better": 1.0 - strokes.above(-analysis.worths.strokes),
                    "worse_at_all": strokes.above(0.0),
                    "loss_if_kept": strokes.loss_if_kept,
                    "loss_if_dropped": strokes.loss_if_dropped,
                    "value_of_10": strokes.value_of_more(10),
                    "value_of_40": strokes.value_of_more(40),
                }
            )
    return rows


def shot_rows(analysis: TrialAnalysis) -> pl.DataFrame:
    """The rows of ``trial_shot``: carry and offline with what differs between sessions taken out."""
    places = analysis.landing.adjusted
    return analysis.shots.frame.select(
        pl.lit(analysis.question.trial_id).alias("trial_id"),
        pl.lit(analysis.question.player_id).alias("player_id"),
        "session_id",
        "shot_no",
        "on_date",
        "arm",
        (pl.col("block_index") + 1).alias("block"),
        "club_speed_mps",
        pl.Series("carry_m", places[:, 0], nan_to_null=True),
        pl.Series("offline_m", places[:, 1], nan_to_null=True),
        pl.Series("is_mishit", ~analysis.landing.core),
    )
