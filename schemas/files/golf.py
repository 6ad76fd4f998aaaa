"""Files about sessions, shots, trials and rounds."""

from __future__ import annotations

import polars as pl

from schemas.files.kind import FileKind, Reference, RowRule, columns
from schemas.files.people import PLAYER, days_in_order

SESSIONS = FileKind(
    name="sessions",
    table="session",
    title="One visit to bay, range, course or gym; also a day of rest.",
    columns=columns(
        "session_id player_id started_at kind",
        "duration_min effort swings_full swings_part swings_dry course holes device_id bay_id ball indoors air_temp_c "
        "air_pressure_hpa humidity_pct altitude_m wind_mps wind_from_deg note",
    ),
    key=("session_id",),
    replaces=("session_id",),
    rules=(
        RowRule(
            "rest_with_work",
            ("swings_full", "kind", "holes", "duration_min"),
            (pl.col("kind") != "rest")
            | (
                (pl.col("swings_full").fill_null(0) == 0)
                & (pl.col("swings_part").fill_null(0) == 0)
                & (pl.col("holes").fill_null(0) == 0)
                & (pl.col("duration_min").fill_null(0) == 0)
            ),
            "a rest row has no swings, holes or minutes",
            "Give the session its true kind, or empty the numbers.",
            "a rest day is a fact",
        ),
    ),
    references=(PLAYER,),
    fills="absent columns",
)

MIN_SPEED_RATIO, MAX_SPEED_RATIO = 0.6, 1.53

SHOTS = FileKind(
    name="shots",
    table="shot",
    title="One shot.",
    columns=columns(
        "session_id player_id shot_no struck_at club",
        "club_speed_mps ball_speed_mps launch_deg direction_deg spin_rpm spin_axis_deg carry_m offline_m apex_m descent_deg "
        "attack_deg path_deg face_deg loft_deg strike_side_mm strike_height_mm counts trial_id arm block_no felt",
    ),
    key=("session_id", "shot_no"),
    replaces=("session_id",),
    rules=(
        RowRule(
            "nothing_measured",
            ("club_speed_mps", "ball_speed_mps", "carry_m"),
            pl.any_horizontal(pl.col(name).is_not_null() for name in ("club_speed_mps", "ball_speed_mps", "carry_m")),
            "at least one of club_speed_mps, ball_speed_mps, carry_m",
            "A swing without a reading belongs to swings_dry or swings_full of the session.",
            "own rule",
        ),
        RowRule(
            "speed_ratio",
            ("ball_speed_mps", "club_speed_mps"),
            (pl.col("ball_speed_mps") <= MAX_SPEED_RATIO * pl.col("club_speed_mps"))
            | pl.col("club_speed_mps").is_null()
            | pl.col("ball_speed_mps").is_null(),
            f"ball speed at most {MAX_SPEED_RATIO} times club speed",
            "One of the two was misread, or they are in different units.",
            "impact of a legal club and ball gives about 1.50 at most (Penner 2003, second-hand)",
        ),
        RowRule(
            "carry_and_offline",
            ("offline_m", "carry_m"),
            (pl.col("offline_m").abs() <= pl.max_horizontal(pl.col("carry_m"), pl.lit(30.0)))
            | pl.col("carry_m").is_null()
            | pl.col("offline_m").is_null(),
            "offline no larger than carry (shots under 30 m: than 30 m)",
            "Check whether carry and offline were swapped.",
            "geometry",
        ),
        RowRule(
            "arm_without_trial",
            ("arm", "trial_id"),
            pl.col("arm").is_null() | pl.col("trial_id").is_not_null(),
            "an arm only together with a trial_id",
            "Fill in the trial_id, or empty the arm.",
            "own rule",
        ),
    ),
    references=(PLAYER, Reference("session_id", "sessions", "unknown_session")),
)

TRIALS = FileKind(
    name="trials",
    table="trial",
    title="One technique trial.",
    columns=columns("trial_id player_id question normal_arm arms began_on", "sheet ended_on end_rule"),
    key=("trial_id",),
    replaces=("trial_id",),
    rules=(
        RowRule(
            "normal_arm_missing",
            ("normal_arm", "arms"),
            pl.col("arms").str.split("|").list.eval(pl.element().str.strip_chars()).list.contains(pl.col("normal_arm"))
            | pl.col("normal_arm").is_null(),
            "normal_arm is one of the arms",
            "Write the arms as: normal | a little | more",
            "own rule",
        ),
        RowRule(
            "one_arm_only",
            ("arms",),
            pl.col("arms").str.split("|").list.eval(pl.element().str.strip_chars()).list.n_unique() >= 2,
            "at least two different arms",
            "A trial compares a change with the normal swing.",
            "own rule",
        ),
        days_in_order("began_on", "ended_on"),
        RowRule(
            "trial_end_half_told",
            ("ended_on", "end_rule"),
            pl.col("ended_on").is_null() == pl.col("end_rule").is_null(),
            "ended_on and end_rule together, or neither",
            "Fill in both, or empty both: without them the trial goes on.",
            "own rule",
        ),
    ),
    references=(PLAYER,),
)

ROUNDS = FileKind(
    name="rounds",
    table="round",
    title="One round on a course.",
    columns=columns("player_id played_on", "round_no course event event_round holes tee_shots fairways penalties strokes"),
    key=("player_id", "played_on", "round_no"),
    replaces=("player_id", "played_on", "round_no"),
    rules=(
        RowRule(
            "more_fairways_than_tee_shots",
            ("fairways", "tee_shots"),
            pl.col("fairways") <= pl.col("tee_shots"),
            "fairways at most tee_shots",
            "Count only the tee shots that were meant to find a fairway.",
            "arithmetic",
        ),
        RowRule(
            "too_few_strokes",
            ("strokes", "holes"),
            pl.col("strokes") >= 2 * pl.col("holes"),
            "at least two strokes a hole",
            "Write all strokes of the round, not those over or under par, nor points.",
            "the lowest rounds take about three a hole (common practice)",
        ),
    ),
    references=(PLAYER,),
    day="played_on",
)
