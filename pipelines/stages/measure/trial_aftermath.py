"""After a trial and beside it: the normal swing since, and the phases of the same months, as rows of the derived tables."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from pipelines.measures.programme.phases import phases
from pipelines.measures.since.normal import LEAST_AFTER, LEAST_BEFORE, normal_since
from pipelines.measures.trial.analysis import SPEED, TrialAnalysis
from pipelines.measures.trial.phases import Phase, PhaseChange, phase_change
from pipelines.stages.measure.trial_rows import ids
from schemas.clubs import CLUB_GROUP

if TYPE_CHECKING:
    from numpy.typing import NDArray

Row = dict[str, Any]

MONTHS_AROUND = timedelta(days=84)
PHASES_BEFORE, PHASES_AFTER = timedelta(days=183), timedelta(days=92)
LEAST_SHOTS = 5
SCATTERS = ("offline_m_log_mad", "carry_m_log_mad")
SINCE = (
    "club_speed_mps", "attack_deg", "path_deg", "face_deg", "launch_deg", "spin_rpm", "strike_side_mm", "strike_height_mm",
)  # fmt: skip
"""Speed and delivery; carry and ball speed also move with air, ball and season, and say nothing about the swing."""

TECHNIQUE_WORDS = ("technique", "technik", "swing change", "umstellung")
JUST_BEFORE = timedelta(days=14)


def _days(analysis: TrialAnalysis) -> tuple[date, date]:
    days = analysis.shots.frame["on_date"]
    return days.min(), days.max()  # type: ignore[return-value]


def _same_group(analysis: TrialAnalysis, sessions: pl.DataFrame) -> pl.DataFrame:
    """Session summaries of the group of clubs that the trial was about."""
    clubs = analysis.shots.frame["club"].drop_nulls().value_counts(sort=True)["club"].to_list() or ["driver"]
    return sessions.filter(pl.col("club_group") == CLUB_GROUP.get(clubs[0], "driver"))


def _normal_until(first: date, plans: pl.DataFrame) -> date:
    """Day on which the normal swing ended: the trial's first, or that of a technique phase it belongs to.

    A change that was played for weeks and then tried is no part of the player's normal.
    """
    around = [
        phase.began_on
        for phase in _phases(plans)
        if any(word in phase.name.casefold() for word in TECHNIQUE_WORDS)
        and phase.began_on <= first <= phase.ended_on + JUST_BEFORE
    ]
    return min(around, default=first)


def since_rows(analysis: TrialAnalysis, sessions: pl.DataFrame, plans: pl.DataFrame) -> list[Row]:
    """The rows of ``trial_since``: sessions of 12 weeks of the normal swing against those of 12 weeks after the trial.

    Sessions of one device only: two devices can differ by more than a swing does.
    """
    first, last = _days(analysis)
    until = _normal_until(first, plans)
    group = _same_group(analysis, sessions)
    before = group.filter(pl.col("on_date").is_between(until - MONTHS_AROUND, until, closed="left"))
    after = group.filter(pl.col("on_date").is_between(last, last + MONTHS_AROUND, closed="right"))
    device = _shared_device(before, after, set(analysis.shots.frame["device_id"].drop_nulls()))
    before, after = (part.filter(_on(device)) for part in (before, after))
    rows, worths = [], analysis.worths
    for metric in (*SINCE, *SCATTERS):
        value, count = (metric, f"{metric[:-8]}_scatter_n") if metric in SCATTERS else (f"{metric}_centre", f"{metric}_n")
        own_before, own_after = _known(before, value, count), _known(after, value, count)
        level = float(own_before.mean()) if len(own_before) else 0.0
        margin = float(np.log(worths.scatter)) if metric in SCATTERS else worths.by_measurement[metric].at(level)
        found = normal_since(own_before, own_after, margin)
        if found is not None:
            rows.append(ids(analysis) | {"metric": metric, "normal_until": until, "device_id": device} | vars(found))
    return rows


def _shared_device(before: pl.DataFrame, after: pl.DataFrame, of_trial: set[str]) -> str | None:
    """The device with the most sessions on both sides; the trial's own comes first where it has enough."""
    counts = [dict(part.drop_nulls("device_id").group_by("device_id").len().rows()) for part in (before, after)]
    both = {device: (counts[0][device], counts[1][device]) for device in sorted(counts[0]) if device in counts[1]}
    enough = {device for device, (n, m) in both.items() if n >= LEAST_BEFORE and m >= LEAST_AFTER}
    return max(both, key=lambda device: (device in enough and device in of_trial, min(both[device])), default=None)


def _on(device: str | None) -> pl.Expr:
    return pl.col("device_id").is_null() if device is None else pl.col("device_id") == device


def _known(part: pl.DataFrame, value: str, count: str) -> NDArray[np.float64]:
    return part.filter(pl.col(count) >= LEAST_SHOTS)[value].drop_nulls().to_numpy()


def _phases(plans: pl.DataFrame) -> list[Phase]:
    return [Phase(*row) for row in phases(plans).select("phase", "began_on", "ended_on").iter_rows()]


def alternative_rows(analysis: TrialAnalysis, sessions: pl.DataFrame, plans: pl.DataFrame) -> list[Row]:
    """The rows of ``trial_alternative``: every arm of the trial, and every phase of half a year before to a quarter after."""
    first, last = _days(analysis)
    group = _same_group(analysis, sessions)
    rows = [_change_row(analysis, arm, first, last) for arm in analysis.shots.arms[1:] if analysis.effect(arm, SPEED)]
    for phase in _phases(plans):
        if phase.ended_on >= first - PHASES_BEFORE and phase.began_on <= last + PHASES_AFTER:
            row = _phase_row(phase, group)
            rows += [ids(analysis) | row] if row else []
    return rows


def _change_row(analysis: TrialAnalysis, arm: str, first: date, last: date) -> Row:
    speed = analysis.effect(arm, SPEED)
    pattern = next((one for one in analysis.patterns if one.arm == arm), None)
    ratio = pattern.left_right if pattern else None
    low, high = ratio.interval() if ratio else (None, None)
    percent = 100 / speed.level if speed else 0.0
    return ids(analysis) | {
        "kind": "change",
        "name": arm,
        "began_on": first,
        "ended_on": last,
        "n": speed.n if speed else 0,
        "speed_pct": speed.mean * percent if speed else None,
        "speed_low_pct": speed.low * percent if speed else None,
        "speed_high_pct": speed.high * percent if speed else None,
        "scatter_ratio": ratio.ratio if ratio else None,
        "scatter_low": low,
        "scatter_high": high,
    }


def _phase_row(phase: Phase, sessions: pl.DataFrame) -> Row | None:
    during = sessions.filter(pl.col("on_date").is_between(phase.began_on, phase.ended_on))
    devices = during.group_by("device_id").len().sort("len", "device_id", descending=[True, False])["device_id"].to_list()
    during = during.filter(_on(devices[0] if devices else None))
    speed = _line(during, phase, "club_speed_mps_centre", "club_speed_mps_n")
    if speed is None:
        return None
    percent = 100 / float(during["club_speed_mps_centre"].mean() or 1.0)  # type: ignore[arg-type]
    scatter = _line(during, phase, "offline_m_log_mad", "offline_m_scatter_n")
    return {
        "kind": "phase",
        "name": phase.name,
        "began_on": phase.began_on,
        "ended_on": phase.ended_on,
        "n": speed.n_sessions,
        "speed_pct": speed.change * percent,
        "speed_low_pct": speed.low * percent,
        "speed_high_pct": speed.high * percent,
        "scatter_ratio": float(np.exp(scatter.change)) if scatter else None,
        "scatter_low": float(np.exp(scatter.low)) if scatter else None,
        "scatter_high": float(np.exp(scatter.high)) if scatter else None,
    }


def _line(during: pl.DataFrame, phase: Phase, value: str, count: str) -> PhaseChange | None:
    known = during.filter((pl.col(count) >= LEAST_SHOTS) & pl.col(value).is_not_null())
    days = (known["on_date"] - phase.began_on).dt.total_days().cast(pl.Float64).to_numpy()
    weights = known[count].clip(upper_bound=30).cast(pl.Float64).to_numpy()
    return phase_change(days, known[value].to_numpy(), weights, float((phase.ended_on - phase.began_on).days))
