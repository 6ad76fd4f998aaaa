"""Derived tables of technique trials."""

from __future__ import annotations

from schemas.tables import Column, Table, day, integer, known, number, text, texts, truth

IDS: tuple[Column, ...] = known("trial_id player_id", required=True)
ARM = text("arm", "Arm of the trial.", required=True)
METRIC = text("metric", "Measurement: a column of shots, or speed_ratio.", required=True)
UNIT = "own"
"""Unit of a number that has the unit of the row's measurement."""


def _interval(unit: str, what: str) -> tuple[Column, ...]:
    return (
        number("mean", unit, f"{what}, posterior mean.", required=True),
        number("low", unit, "Lower end of the 90 % interval.", required=True),
        number("high", unit, "Upper end of the 90 % interval.", required=True),
    )


TRIAL_RESULT = Table(
    "trial_result",
    "One trial with its verdict, or the statements that stand in its place.",
    ("trial_id",),
    (
        *IDS,
        text("question", "The one thing that changes; empty when only the shots name the trial.", required=True),
        text("normal_arm", "The player's normal.", required=True),
        texts("arms", "Arms in the order of the amount of the change.", required=True),
        truth("is_declared", "A trials file names it; else only shots do.", required=True),
        day("began_on", "First day: of its shots, or as declared when there are none."),
        day("last_on", "Last day with a shot."),
        integer("n_shots", "Counting shots.", required=True),
        integer("n_days", "Days with counting shots.", required=True),
        text("club", "Club most used."),
        text("state", "planned (no shots yet), statement (no fair verdict), or verdict.", required=True),
        texts("statements", "Codes of what stands in place of a verdict, gravest first.", required=True),
        texts("notes", "Codes of weaknesses said beside the verdict.", required=True),
        text("best_arm", "Arm that the verdict is about."),
        text("verdict", "keep, keep testing or go back."),
        text("reason", "Code of the clause that decided."),
        text("speed_side", "Speed: better, worse, same, open."),
        text("strokes_side", "Strokes on the player's course: better, worse, same, open, unknown."),
        text("scatter_side", "Left-right scatter: worse, same, open, unknown."),
        text("body_side", "Load and reports in the trial's weeks: calm, ask, unknown.", required=True),
        number("load_ratio", "", "Swings a day in the trial's weeks over those of the 28 days before."),
        text("home_course", "Course whose strokes decide.", required=True),
        number("speed_cv_pct", "%", "Shot-to-shot SD of club speed inside arms and sessions."),
        integer("more_for_speed", "Further shots an arm that settle a worthwhile gain of speed; 0: settled."),
        integer("more_for_scatter", "Further shots an arm that show half as much scatter again; 0: enough."),
        number("value_of_more", "strokes a round", "Expected gain from 10 more shots an arm before the choice."),
        integer("sheet_planned", "Counting shots of the sheet on the days that were struck; null: no sheet is known."),
        integer("sheet_struck", "Counting shots of these days."),
        integer("sheet_differing", "Of these, under another arm than the sheet has at their place."),
        number("sheet_shrinks_to", "", "What is left of a true difference when the differing labels are wrong."),
        day("ended_on", "Last day whose shots count, as somebody has ended it; null: it goes on."),
        text("end_rule", "Why it was ended: sheet, settled or stopped."),
    ),
)

TRIAL_ARM = Table(
    "trial_arm",
    "One arm of a trial: its shots, its pattern and its verdict.",
    ("trial_id", "arm"),
    (
        *IDS,
        ARM,
        integer("amount", "Steps of the change from normal; 0 is normal.", required=True),
        truth("is_normal", "The player's normal.", required=True),
        truth("is_compared", "Enough shots to be compared.", required=True),
        integer("n_shots", "Counting shots.", required=True),
        integer("n_blocks", "Blocks.", required=True),
        number("club_speed_mps", "m/s", "Mean club speed of its shots."),
        integer("n_landed", "Shots with carry and offline.", required=True),
        integer("n_mishits", "Of these, mishits.", required=True),
        number("mishit_rate", "", "Share of mishits, posterior mean."),
        number("mishit_low", "", "Lower end of its 95 % interval."),
        number("mishit_high", "", "Upper end of its 95 % interval."),
        number("carry_m", "m", "Middle of the core: carry."),
        number("offline_m", "m", "Middle of the core: offline."),
        number("carry_sd_m", "m", "Standard deviation of carry, mishits apart."),
        number("offline_sd_m", "m", "Standard deviation of offline, mishits apart."),
        number("ellipse_long_m", "m", "Long half axis of the ellipse that holds half of the core."),
        number("ellipse_short_m", "m", "Short half axis."),
        number("ellipse_tilt_deg", "deg", "Tilt of the long axis from the line of play toward the right."),
        number("left_right_ratio", "", "Left-right scatter over that of normal."),
        number("left_right_low", "", "Lower end of its 90 % interval."),
        number("left_right_high", "", "Upper end of its 90 % interval."),
        number("left_right_wider", "", "Probability that it is wider by what matters, or more."),
        number("long_short_ratio", "", "Long-short scatter over that of normal."),
        number("long_short_low", "", "Lower end of its 90 % interval."),
        number("long_short_high", "", "Upper end of its 90 % interval."),
        text("verdict", "keep, keep testing or go back; empty for normal and without a verdict."),
        text("reason", "Code of the clause that decided."),
        text("speed_side", "Speed: better, worse, same, open."),
        text("strokes_side", "Strokes on the player's course."),
        text("scatter_side", "Left-right scatter."),
        number("left_right_worthwhile", "", "Ratio from which wider matters."),
    ),
)

TRIAL_EFFECT = Table(
    "trial_effect",
    "Change of one measurement in one arm against normal.",
    ("trial_id", "arm", "metric"),
    (
        *IDS,
        ARM,
        METRIC,
        integer("n", "Shots behind the comparison, all arms.", required=True),
        number("level", UNIT, "Mean of normal.", required=True),
        number("worthwhile", UNIT, "Smallest change that matters.", required=True),
        *_interval(UNIT, "Change against normal"),
        number("more", "", "Probability of a worthwhile change upward.", required=True),
        number("less", "", "Probability of a worthwhile change downward.", required=True),
        number("same", "", "Probability of a change that does not matter.", required=True),
        truth("is_delivery", "Part of the swing or strike.", required=True),
        number("difference", UNIT, "Mean difference of blocks within rounds."),
        number("p_value", "", "Of the randomisation test; null where the order does not allow it."),
        number("smallest_p", "", "Smallest p-value that the order could give."),
        integer("n_orders", "Orders looked at."),
    ),
)

TRIAL_DOSE = Table(
    "trial_dose",
    "Change of one measurement for each step of the change, over three or more ordered arms.",
    ("trial_id", "metric"),
    (
        *IDS,
        METRIC,
        *_interval(UNIT, "Change per step"),
        number("rising", "", "Probability that more of the change means a higher value.", required=True),
    ),
)

TRIAL_STROKES = Table(
    "trial_strokes",
    "Strokes a round of one arm against normal on one course; below 0 is better.",
    ("trial_id", "arm", "course"),
    (
        *IDS,
        ARM,
        text("course", "Name of the course.", required=True),
        truth("is_home", "The course whose strokes decide.", required=True),
        integer("tee_shots", "Tee shots of a round.", required=True),
        number("per_tee_shot", "strokes", "Strokes from the tee to holing out.", required=True),
        *_interval("strokes a round", "Difference"),
        number("worse", "", "Probability of a worthwhile loss.", required=True),
        number("better", "", "Probability of a worthwhile gain.", required=True),
        number("worse_at_all", "", "Probability of any loss.", required=True),
        number("loss_if_kept", "strokes a round", "Average loss from choosing the arm where it is the worse one.", required=True),
        number("loss_if_dropped", "strokes a round", "Average loss from staying with normal.", required=True),
        number("value_of_10", "strokes a round", "Expected gain from 10 more shots an arm.", required=True),
        number("value_of_40", "strokes a round", "Expected gain from 40 more shots an arm.", required=True),
    ),
)

TRIAL_SHOT = Table(
    "trial_shot",
    "One counting shot of a trial where it landed, sessions brought together.",
    ("trial_id", "session_id", "shot_no"),
    (
        *IDS,
        *known("session_id shot_no", required=True),
        day("on_date", "Local day.", required=True),
        ARM,
        integer("block", "Block, in the order of the trial.", required=True),
        *known("club_speed_mps carry_m offline_m"),
        truth("is_mishit", "Outside the core of its arm.", required=True),
    ),
)

TRIAL_BODY = Table(
    "trial_body",
    "One rating in the weeks of a trial against the 28 days before.",
    ("trial_id", "metric"),
    (
        *IDS,
        text("metric", "fatigue, soreness or stiff_REGION.", required=True),
        number("before", "", "Mean before, 0 to 10.", required=True),
        number("during", "", "Mean in the trial's weeks.", required=True),
        integer("n_before", "Answers before.", required=True),
        integer("n_during", "Answers in the trial's weeks.", required=True),
        number("raised", "", "Probability that it is up by a point or more.", required=True),
    ),
)

TRIAL_SINCE = Table(
    "trial_since",
    "The normal swing after a trial against before it, by measurement.",
    ("trial_id", "metric"),
    (
        *IDS,
        text("metric", "A measurement, or offline_m_log_mad and carry_m_log_mad for the scatter.", required=True),
        day("normal_until", "Day before which the swing was normal: the trial's first, or its technique phase's.", required=True),
        text("device_id", "Device that measured all of these sessions; null: none was named."),
        integer("n_before", "Sessions before.", required=True),
        integer("n_after", "Sessions after.", required=True),
        number("before", UNIT, "Mean of the session means before.", required=True),
        number("change", UNIT, "After minus before.", required=True),
        number("low", UNIT, "Lower end of the 90 % interval.", required=True),
        number("high", UNIT, "Upper end of the 90 % interval.", required=True),
        number("margin", UNIT, "Own normal: this far on either side.", required=True),
        number("within", "", "Probability that the change lies within the margin.", required=True),
        text("state", "back, not_back or not_clear.", required=True),
        integer("more_sessions", "Further sessions that would show an unchanged normal."),
    ),
)

TRIAL_ALTERNATIVE = Table(
    "trial_alternative",
    "What the change, and what the phases of the same months, went along with.",
    ("trial_id", "kind", "name", "began_on"),
    (
        *IDS,
        text("kind", "change (an arm of this trial) or phase (of the plan).", required=True),
        text("name", "Arm or phase.", required=True),
        day("began_on", "First day.", required=True),
        day("ended_on", "Last day.", required=True),
        integer("n", "Shots (change) or sessions (phase) behind it.", required=True),
        number("speed_pct", "%", "Change of club speed."),
        number("speed_low_pct", "%", "Lower end of the 90 % interval."),
        number("speed_high_pct", "%", "Upper end of the 90 % interval."),
        number("scatter_ratio", "", "Left-right scatter, after over before."),
        number("scatter_low", "", "Lower end of the 90 % interval."),
        number("scatter_high", "", "Upper end of the 90 % interval."),
    ),
)

TABLES: tuple[Table, ...] = (
    TRIAL_RESULT,
    TRIAL_ARM,
    TRIAL_EFFECT,
    TRIAL_DOSE,
    TRIAL_STROKES,
    TRIAL_SHOT,
    TRIAL_BODY,
    TRIAL_SINCE,
    TRIAL_ALTERNATIVE,
)
"""Tables of this area."""
