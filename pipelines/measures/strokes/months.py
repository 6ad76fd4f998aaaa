"""Strokes of a player's drives month by month on a course, against the player's reference months."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl
from scipy.special import ndtr

from pipelines.measures.carry import OTHER_MODELS
from pipelines.measures.device.months import DEVICE_ERROR_M
from pipelines.measures.reference_months import with_recent, with_reference
from pipelines.measures.strokes.expected import course_strokes
from pipelines.measures.strokes.pattern import DrivePattern, PatternError, PatternStrokes

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from schemas.course import Course

USUAL_RUN_SHARE = 0.10
"""Run over carry of a drive where no landing was computed: tour and amateur drives run 9 to 12 %."""
LOW_Z = 1.6449

_PATTERN = ("total_m", "carry_sd_m", "direction_sd_deg", "correlation", "mishit_rate", "tail_share", "club_speed_mps")
_ERRORS = ("carry_error_m", "log_sd_error", "mishit_error", "tail_share_error")
_TOGETHER = "tail_correlation"
_SPEED_ERROR = "club_speed_error_mps"
_AWAY = {f"carry_{name}_m": f"{name}_away_m" for name in OTHER_MODELS}
"""Carry by another set of coefficients of drag and lift, and by how much it differs from the one that is told."""


def drive_pattern(row: Mapping[str, Any], prefix: str = "") -> DrivePattern:
    """The drive pattern of a row of the pattern table, or of its pooled months with the prefix ``recent_`` or ``reference_``."""
    return DrivePattern(
        total_m=row[f"{prefix}total_m"],
        direction_deg=0.0,
        total_sd_m=row[f"{prefix}carry_sd_m"],
        direction_sd_deg=row[f"{prefix}direction_sd_deg"],
        correlation=max(-0.95, min(0.95, row[f"{prefix}correlation"])),
        mishit_rate=row[f"{prefix}mishit_rate"],
        tail_share=row[f"{prefix}tail_share"],
    )


def strokes_by_month(
    referred: pl.DataFrame, standards: Mapping[str, str], courses: Sequence[Course], schema: dict[str, pl.DataType]
) -> pl.DataFrame:
    """Strokes per tee shot and round of every driver pattern on every course, split, and what has changed.

    Parameters
    ----------
    referred : polars.DataFrame
        Driver rows of the pattern table beside their neighbours (:func:`with_neighbours`); what is said of one row does not
        depend on the others.
    standards : mapping
        Player to standard.
    courses : sequence of Course
    schema : dict
        Columns and types of the result, in order.

    Returns
    -------
    polars.DataFrame
        One row per player, month and course. ``change`` is that of the last three months against the reference months (see
        :mod:`pipelines.measures.reference_months`), fewer strokes being negative; ``change_distance + change_trouble =
        change``. Without a reference they are null.

    Notes
    -----
    Clean strokes (every drive in the fairway at its distance) give the part of distance, all else is trouble. 90 % intervals
    by the delta method; errors of pooled months are those of their weighted mean. Both hold what three sets of drag
    and lift differ by: a month's own strokes the spread of its carry; a change the standard deviation, over the sets, of the
    difference of both sides by the same set, so that what a set moves alike on both sides falls out; errors of what is
    taken off devices in the same way. Source: [Broadie2012].
    Checked: tests/unit/test_month_patterns.py.
    """
    rows: list[dict[str, Any]] = []
    listed = list(referred.iter_rows(named=True))
    for standard in sorted(set(standards.values())):
        chosen = [row for row in listed if standards[row["player_id"]] == standard]
        for course in courses if chosen else ():
            rows += _course_rows(chosen, course, standard)
    table = pl.DataFrame(rows, infer_schema_length=None) if rows else pl.DataFrame(schema=schema)
    return table.select(pl.col(name).cast(kind) for name, kind in schema.items()).sort("player_id", "month_on", "course")


def with_neighbours(patterns: pl.DataFrame) -> pl.DataFrame:
    """The patterns that are known, each with its recent and its reference months pooled."""
    known = patterns.filter(pl.col("carry_m").is_not_null()).with_columns(
        pl.coalesce("total_m", pl.col("carry_m") * (1.0 + USUAL_RUN_SHARE)),
        *((pl.col(carry) - pl.col("carry_m")).alias(away) for carry, away in _AWAY.items()),
    )
    levels, errors = (*_PATTERN, _TOGETHER, DEVICE_ERROR_M, *_AWAY.values()), (*_ERRORS, _SPEED_ERROR)
    recent = with_recent(known, ["player_id"], levels, "n_shots", errors)
    return with_reference(recent, ["player_id"], levels, "n_shots", errors)


def newest_at_home(months: pl.DataFrame, homes: pl.DataFrame) -> pl.DataFrame:
    """The newest month of each player on the course that counts for them.

    Parameters
    ----------
    months : polars.DataFrame
        Rows of ``stroke_month``.
    homes : polars.DataFrame
        player_id, course.

    Returns
    -------
    polars.DataFrame
        Rows of ``months``, by player; none of a player without a month there.

    Notes
    -----
    Source: own rule. Checked: tests/unit/test_lasting_strokes.py.
    """
    return (
        months.join(homes.select("player_id", "course"), on=["player_id", "course"], how="semi")
        .sort("player_id", "month_on")
        .group_by("player_id", maintain_order=True)
        .last()
    )


def _course_rows(chosen: Sequence[Mapping[str, Any]], course: Course, standard: str) -> list[dict[str, Any]]:
    def strokes(rows: Sequence[Mapping[str, Any]], prefix: str) -> list[PatternStrokes]:
        patterns = [drive_pattern(row, prefix) for row in rows]
        return course_strokes(patterns, course, standard, [_error(row, prefix) for row in rows]) if rows else []

    with_past = [row for row in chosen if row["reference_total_m"] is not None]
    pairs = zip(strokes(with_past, "recent_"), strokes(with_past, "reference_"), strict=True)
    changes = {_key(row): _change(row, *pair, len(course.tee_shots)) for row, pair in zip(with_past, pairs, strict=True)}
    return [
        _level(row, course, standard, now) | changes.get(_key(row), _NO_CHANGE)
        for row, now in zip(chosen, strokes(chosen, ""), strict=True)
    ]


def _key(row: Mapping[str, Any]) -> tuple[Any, ...]:
    return row["player_id"], row["month_on"]


def _error(row: Mapping[str, Any], prefix: str) -> PatternError:
    carry, spread, mishit, tail = (row[f"{prefix}{name}"] for name in _ERRORS)
    if not prefix:
        carry = math.hypot(carry, row["carry_model_error_m"] or 0.0, row[DEVICE_ERROR_M])
    return PatternError(carry, spread, spread, mishit, tail, row[f"{prefix}{_TOGETHER}"])


def _level(row: Mapping[str, Any], course: Course, standard: str, now: PatternStrokes) -> dict[str, Any]:
    holes = len(course.tee_shots)
    error = (now.standard_error or 0.0) * holes
    return {
        "player_id": row["player_id"],
        "month_on": row["month_on"],
        "course": course.name,
        "standard": standard,
        "n_shots": row["n_shots"],
        "n_tee_shots": holes,
        "club_speed_mps": row["club_speed_mps"],
        "direction_sd_deg": row["direction_sd_deg"],
        "per_tee_shot": now.per_tee_shot,
        "per_round": now.per_round,
        "per_round_low": now.per_round - LOW_Z * error,
        "per_round_high": now.per_round + LOW_Z * error,
        **{f"{part}_per_round": getattr(now, part) * holes for part in ("clean", "rough", "trees", "water", "out_of_bounds")},
        **{name: getattr(now, name) for name in ("fairway_share", "trees_share", "water_share", "out_share")},
    }


_NO_CHANGE: dict[str, Any] = dict.fromkeys(
    (
        *("change", "change_distance", "change_trouble", "change_error", "change_low", "change_high", "chance_cost"),
        *("change_speed_mps", "change_speed_error_mps", "change_scatter_deg", "change_total_m"),
        *(f"recent_{name}" for name in ("speed_mps", "speed_low_mps", "speed_high_mps")),
        *(f"recent_{name}" for name in ("scatter_deg", "scatter_low_deg", "scatter_high_deg")),
        *("recent_n", "reference_n"),
        *("reference_from_on", "reference_to_on"),
    )
) | {"reason": "no_reference"}


def _change(row: Mapping[str, Any], now: PatternStrokes, before: PatternStrokes, holes: int) -> dict[str, Any]:
    change = now.per_round - before.per_round
    error = holes * math.hypot(
        now.standard_error or 0.0, before.standard_error or 0.0, _models_apart(row, now, before), _devices_apart(row, now, before)
    )
    return {
        "change": change,
        "change_distance": (now.clean - before.clean) * holes,
        "change_trouble": (now.trouble - before.trouble) * holes,
        "change_error": error,
        "change_low": change - LOW_Z * error,
        "change_high": change + LOW_Z * error,
        "chance_cost": float(ndtr(change / error)) if error > 0.0 else None,
        **_recent(row),
        "change_speed_mps": _difference(row, "club_speed_mps"),
        "change_speed_error_mps": _speed_change_error(row),
        "change_scatter_deg": _difference(row, "direction_sd_deg"),
        "change_total_m": _difference(row, "total_m"),
        "recent_n": row["recent_n"],
        "reference_n": row["reference_n"],
        "reference_from_on": row["reference_from_on"],
        "reference_to_on": row["reference_to_on"],
        "reason": "",
    }


def _models_apart(row: Mapping[str, Any], now: PatternStrokes, before: PatternStrokes) -> float:
    """Standard deviation of a change of strokes a tee shot over the sets of coefficients; 0 where a side does not know them."""
    away = [(row[f"recent_{name}"], row[f"reference_{name}"]) for name in _AWAY.values()]
    if any(None in pair for pair in away):
        return 0.0
    moved = [(now.strokes_per_m or 0.0) * recent - (before.strokes_per_m or 0.0) * reference for recent, reference in away]
    return float(np.std([0.0, *moved], ddof=1))


def _devices_apart(row: Mapping[str, Any], now: PatternStrokes, before: PatternStrokes) -> float:
    """What errors of offsets do to a change of strokes a tee shot: nothing where both sides are of the same device."""
    recent, reference = row[f"recent_{DEVICE_ERROR_M}"], row[f"reference_{DEVICE_ERROR_M}"]
    return abs(float((now.strokes_per_m or 0.0) * recent - (before.strokes_per_m or 0.0) * reference))


def _recent(row: Mapping[str, Any]) -> dict[str, Any]:
    """Speed and scatter of the last three months with their 90 % intervals."""
    error = _error(row, "recent_")
    speed, scatter = row["recent_club_speed_mps"], row["recent_direction_sd_deg"]
    speed_error = row[f"recent_{_SPEED_ERROR}"]
    away = None if speed_error is None else LOW_Z * speed_error
    factor = math.exp(LOW_Z * error.log_direction_sd)
    return {
        "recent_speed_mps": speed,
        "recent_speed_low_mps": None if speed is None or away is None else speed - away,
        "recent_speed_high_mps": None if speed is None or away is None else speed + away,
        "recent_scatter_deg": scatter,
        "recent_scatter_low_deg": scatter / factor,
        "recent_scatter_high_deg": scatter * factor,
    }


def _speed_change_error(row: Mapping[str, Any]) -> float | None:
    """Of the change of club speed: that of both sides; a side without one takes the other's."""
    recent, reference = row[f"recent_{_SPEED_ERROR}"], row[f"reference_{_SPEED_ERROR}"]
    known = [error for error in (recent, reference) if error is not None]
    if not known:
        return None
    return math.hypot(known[0], known[-1])


def _difference(row: Mapping[str, Any], name: str) -> float | None:
    now, before = row[f"recent_{name}"], row[f"reference_{name}"]
    return None if now is None or before is None else now - before
