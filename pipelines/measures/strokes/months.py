"""Strokes of a player's drives month by month on a course, against the player's reference months."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl
from scipy.special import ndtr

from pipelines.measures.reference_months import with_reference
from pipelines.measures.strokes.expected import PatternStrokes, course_strokes
from pipelines.measures.strokes.pattern import DrivePattern, PatternError

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from schemas.course import Course

USUAL_RUN_SHARE = 0.10
"""Run over carry of a drive where no landing was computed: tour and amateur drives run 9 to 12 %."""
LOW_Z = 1.6449

_PATTERN = ("total_m", "carry_sd_m", "direction_sd_deg", "correlation", "mishit_rate", "club_speed_mps")
_ERRORS = ("carry_error_m", "log_sd_error", "mishit_error")


def drive_pattern(row: Mapping[str, Any], prefix: str = "") -> DrivePattern:
    """The drive pattern of a row of the pattern table (or of its reference, with the prefix ``reference_``)."""
    return DrivePattern(
        total_m=row[f"{prefix}total_m"],
        direction_deg=0.0,
        total_sd_m=row[f"{prefix}carry_sd_m"],
        direction_sd_deg=row[f"{prefix}direction_sd_deg"],
        correlation=max(-0.95, min(0.95, row[f"{prefix}correlation"])),
        mishit_rate=row[f"{prefix}mishit_rate"],
    )


def strokes_by_month(
    patterns: pl.DataFrame, standards: Mapping[str, str], courses: Sequence[Course], schema: dict[str, pl.DataType]
) -> pl.DataFrame:
    """Strokes per tee shot and round of every driver pattern on every course, split, and against the reference months.

    Parameters
    ----------
    patterns : polars.DataFrame
        Driver rows of the pattern table; rows without a pattern are left out.
    standards : mapping
        Player to standard.
    courses : sequence of Course
    schema : dict
        Columns and types of the result, in order.

    Returns
    -------
    polars.DataFrame
        One row per player, month and course. ``change`` is against the reference months, fewer strokes being negative;
        ``change_distance + change_trouble = change``. Without a reference they are null.

    Notes
    -----
    Clean strokes (every drive in the fairway at its distance) give the part of distance, all else is trouble. 90 % intervals
    by the delta method. Source: [Broadie2012]. Checked: tests/unit/test_month_strokes.py.
    """
    known = patterns.filter(pl.col("carry_m").is_not_null()).with_columns(
        pl.coalesce("total_m", pl.col("carry_m") * (1.0 + USUAL_RUN_SHARE)),
        (pl.col("log_sd_error") ** 2).alias("log_sd_error"),
    )
    referred = with_reference(known, ["player_id"], (*_PATTERN, *_ERRORS), "n_shots").with_columns(pl.col("log_sd_error").sqrt())
    rows: list[dict[str, Any]] = []
    for standard in sorted(set(standards.values())):
        chosen = [row for row in referred.iter_rows(named=True) if standards[row["player_id"]] == standard]
        for course in courses:
            rows += _course_rows(chosen, course, standard)
    table = pl.DataFrame(rows, infer_schema_length=None) if rows else pl.DataFrame(schema=schema)
    return table.select(pl.col(name).cast(kind) for name, kind in schema.items()).sort("player_id", "month_on", "course")


def _course_rows(chosen: Sequence[Mapping[str, Any]], course: Course, standard: str) -> list[dict[str, Any]]:
    if not chosen:
        return []
    now = course_strokes([drive_pattern(row) for row in chosen], course, standard, [_error(row) for row in chosen])
    with_past = [row for row in chosen if row["reference_total_m"] is not None]
    past = (
        course_strokes(
            [drive_pattern(row, "reference_") for row in with_past], course, standard, [_pooled_error(row) for row in with_past]
        )
        if with_past
        else []
    )
    before = {(row["player_id"], row["month_on"]): found for row, found in zip(with_past, past, strict=True)}
    return [
        _row(row, course, standard, found, before.get((row["player_id"], row["month_on"])))
        for row, found in zip(chosen, now, strict=True)
    ]


def _error(row: Mapping[str, Any]) -> PatternError:
    return PatternError(row["carry_error_m"], row["log_sd_error"], row["log_sd_error"], row["mishit_error"])


def _pooled_error(row: Mapping[str, Any]) -> PatternError:
    """Of the mean of several months: the months' own errors over the root of how many there are, by their shots."""
    share = (row["n_shots"] / max(row["reference_n"], row["n_shots"])) ** 0.5
    spread = row["reference_log_sd_error"] ** 0.5 * share
    return PatternError(row["reference_carry_error_m"] * share, spread, spread, row["reference_mishit_error"] * share)


def _row(
    row: Mapping[str, Any], course: Course, standard: str, now: PatternStrokes, before: PatternStrokes | None
) -> dict[str, Any]:
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
        **_change(row, now, before, holes),
    }


def _change(row: Mapping[str, Any], now: PatternStrokes, before: PatternStrokes | None, holes: int) -> dict[str, Any]:
    names = ("change", "change_distance", "change_trouble", "change_low", "change_high", "chance_cost", "change_speed_mps")
    if before is None:
        return dict.fromkeys((*names, "change_scatter_deg", "reference_from_on", "reference_n")) | {"reason": "no_reference"}
    change = now.per_round - before.per_round
    error = holes * ((now.standard_error or 0.0) ** 2 + (before.standard_error or 0.0) ** 2) ** 0.5
    speed, past_speed = row["club_speed_mps"], row["reference_club_speed_mps"]
    return {
        "change": change,
        "change_distance": (now.clean - before.clean) * holes,
        "change_trouble": (now.trouble - before.trouble) * holes,
        "change_low": change - LOW_Z * error,
        "change_high": change + LOW_Z * error,
        "chance_cost": float(ndtr(change / error)) if error > 0.0 else None,
        "change_speed_mps": None if speed is None or past_speed is None else speed - past_speed,
        "change_scatter_deg": row["direction_sd_deg"] - row["reference_direction_sd_deg"],
        "reference_from_on": row["reference_from_on"],
        "reference_n": row["reference_n"],
        "reason": "",
    }
