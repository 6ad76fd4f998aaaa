"""Derived tables of the ball: comparable carry, ball factors, transfer, patterns, strokes and the trade-off map."""

from __future__ import annotations

from schemas.core.transfer import MONTH_TOLD
from schemas.tables import Column, Table, day, integer, known, number, text, truth

_PLAYER_MONTH = (
    *known("player_id", required=True),
    day("month_on", "First day of the month.", required=True),
)
_COURSE = text("course", "Name of the course: open, tree-lined, or one of the academy's own.", required=True)
_GROUP = text("club_group", "Group of clubs: driver, fairway, hybrid, iron, wedge.", required=True)

HOME_COURSE = Table(
    "home_course",
    "The course on which a player's speed and scatter are weighed.",
    ("player_id",),
    (
        *known("player_id", required=True),
        _COURSE,
        text("asked", "The course that the players file names; null: none, and the academy's counts."),
    ),
)

COMPARABLE_SHOT = Table(
    "comparable_shot",
    "One shot with its carry restated for still reference air.",
    ("session_id", "shot_no"),
    (
        *known("session_id shot_no player_id", required=True),
        day("on_date", "Local day of the session.", required=True),
        *known("club", required=True),
        _GROUP,
        text("method", "How the carry came about: anchored, computed, measured_only or none.", required=True),
        text("reason", "Code of what stood in the way or was assumed; empty: nothing.", required=True),
        number("carry_m", "m", "Carry in still reference air with the reference ball."),
        number("offline_m", "m", "Offline in still reference air; right is positive."),
        number("direction_deg", "deg", "Direction of the landing point from the tee; right is positive."),
        number("run_m", "m", "Computed bounce and run."),
        number("total_m", "m", "Carry and run."),
        number("ball_factor", "", "Carry of the ball over the reference ball that the carry was divided by.", required=True),
        text("factor_source", "Where the factor is from: set, learned, reference or none (unknown, 1 was used).", required=True),
        number("air_density_kgpm3", "kg/m3", "Density of the air of the session; null when its temperature is unknown."),
        number("carry_pooled_m", "m", "Carry as it would be by the pooled coefficients of drag and lift."),
        number("carry_bearman_harvey_m", "m", "Carry as it would be by the coefficients of a conventional ball."),
    ),
)


def _of_model(name: str, says: str) -> tuple[Column, ...]:
    return (
        number(f"{name}_still", "", f"Carry by {says} over that by the default ones, in reference air."),
        number(f"{name}_day", "", "The same in the air of the day."),
        number(f"{name}_off", "", f"Sum of the logarithms of measured carry over that by {says}.", required=True),
        integer(f"{name}_off_n", "Shots in it.", required=True),
    )


SHOT_FLIGHT = Table(
    "shot_flight",
    "One shot as the flight model has it, in reference air and in the air of its day.",
    ("session_id", "shot_no"),
    (
        *known("session_id shot_no player_id", required=True),
        number("spin_used_rpm", "rpm", "Spin as measured, else the one that stands in for it."),
        number("air_density_kgpm3", "kg/m3", "Density of the air of the session; null when its temperature is unknown."),
        number("model_carry_m", "m", "Carry in still reference air."),
        number("model_offline_m", "m", "Offline in still reference air; right is positive."),
        number("model_run_m", "m", "Bounce and run in still reference air."),
        number("day_carry_m", "m", "Carry in the air and wind of the day."),
        number("day_offline_m", "m", "Offline in the air and wind of the day; right is positive."),
        text("flight_reason", "Code of why there is no flight; empty: there is one.", required=True),
    ),
)

BALL_CELL = Table(
    "ball_cell",
    "What the counting shots of one session with one club tell of ball and device.",
    ("player_id", "session_id", "club", "device_id", "ball"),
    (
        *known("player_id session_id club", required=True),
        *known("device_id ball"),
        day("month_on", "First day of the month.", required=True),
        number("speed", "", "Sum of the logarithms of ball speed over club speed.", required=True),
        integer("speed_n", "Shots in it.", required=True),
        number(
            "near", "", "Sum of the logarithms of measured carry over the model's, with 1.2 times that of speed.", required=True
        ),
        integer("near_n", "Shots in it.", required=True),
        number("indoor", "", "Sum of 1.2 times the logarithm of speed, of shots taken to fly as the model says.", required=True),
        integer("indoor_n", "Shots in it.", required=True),
        number("off", "", "Sum of the logarithms of measured carry over the model's, premium balls outdoors.", required=True),
        integer("off_n", "Shots in it.", required=True),
        *_of_model("pooled", "the pooled coefficients"),
        *_of_model("bearman_harvey", "the coefficients of a conventional ball"),
    ),
)

BALL_FACTOR = Table(
    "ball_factor",
    "One ball on one device against the reference ball, as known when a month began, or in it where nothing was before.",
    ("month_on", "device_id", "ball"),
    (
        day("month_on", "First day of the month.", required=True),
        *known("device_id ball"),
        number("factor", "", "Its carry over that of the reference ball.", required=True),
        text("factor_source", "set, learned, reference or none.", required=True),
        integer("n_shots", "Shots of players who hit both, behind the factor.", required=True),
        number("speed_factor", "", "Its ball speed over club speed over that of the reference ball and device.", required=True),
        text("speed_factor_source", "learned, reference or none.", required=True),
        integer("n_speed_shots", "Shots of players who hit both, behind the speed factor.", required=True),
        number("model_level", "", "Measured carry of premium balls over the flight model, all devices.", required=True),
        day("known_on", "First month in which both factors were known; earlier months take theirs from it."),
    ),
)

TRANSFER_MONTH = Table(
    "transfer_month",
    "What became of club speed on its way to carry, one month of one player with one club.",
    ("player_id", "club", "month_on"),
    (
        *known("player_id club", required=True),
        _GROUP,
        *MONTH_TOLD,
        number(
            "strike_loss",
            "",
            "Mean share of ball speed lost to strikes off the middle: that of a rigid head times strike_factor.",
        ),
        number(
            "reference_club_speed_mps",
            "m/s",
            "Club speed of the reference months, as reference_from_on of stroke_month has them.",
        ),
        number("reference_speed_ratio", "", "Speed ratio of the reference months."),
        number("reference_launch_deg", "deg", "Launch of the reference months."),
        number("reference_spin_rpm", "rpm", "Spin of the reference months."),
        number("reference_carry_m", "m", "Comparable carry of the reference months."),
        number("reference_club_speed_error_mps", "m/s", "Its standard error."),
        number("reference_carry_error_m", "m", "Standard error of reference_carry_m."),
        integer("reference_n", "Shots of the reference months."),
        day("reference_from_on", "First of the reference months."),
        truth(
            "is_factor_known", "What ball and device do was known by the end of the month for all of its shots.", required=True
        ),
        text("device_id", "The device that measured most of the shots."),
        number("on_offer_m", "m", "Carry that the change of club speed alone would give."),
        number("strike_m", "m", "Carry from a change of strike; 0 when strike_known is false."),
        number("speed_ratio_m", "m", "Carry from the rest of the change of speed ratio."),
        number("launch_m", "m", "Carry from the change of launch."),
        number("spin_m", "m", "Carry from the change of spin."),
        number("rest_m", "m", "What the flight model does not explain."),
        number("carry_change_m", "m", "Change of comparable carry: the sum of the six parts."),
        number("arrived_share", "", "carry_change_m over on_offer_m; null below 0.3 m/s of change."),
        truth("strike_known", "The strike was measured in both."),
        text("reason", "Why the parts are null: too_few_shots, no_reference, flight_out_of_range; else empty.", required=True),
        number("strike_factor", "", "Loss off the middle over that of a rigid head.", required=True),
        number("strike_factor_error", "", "Standard error of it.", required=True),
        text("strike_factor_source", "own: measured on own strikes; too_few, unclear: published, 1.5 to 2.", required=True),
        integer("strike_factor_n", "Own strikes with this club up to the end of the month.", required=True),
        number("carry_model_error_m", "m", "Standard deviation of carry_m over three sets of coefficients of drag and lift."),
        number("carry_change_model_error_m", "m", "The same of carry_change_m; null without a reference."),
        number("carry_change_low_m", "m", "Lower end of the 90 % interval of carry_change_m, models included."),
        number("carry_change_high_m", "m", "Upper end of it; null where a side has fewer than three sessions."),
        day("reference_to_on", "Last of the reference months."),
    ),
)

QUARTILE_MONTH = Table(
    "quartile_month",
    "How wide the shots of one player, group of clubs and month lie, by quartiles: what is usual in the squad is told from it.",
    ("player_id", "club_group", "month_on"),
    (
        *known("player_id", required=True),
        _GROUP,
        day("month_on", "First day of the month.", required=True),
        number("share", "", "Standard deviation of carry over its median, from the quartiles; null without a shot."),
        number("deg", "deg", "Standard deviation of direction, from the quartiles; null without a shot."),
        integer("n_shots", "Shots with carry and direction, of the club most struck.", required=True),
    ),
)

PATTERN_MONTH = Table(
    "pattern_month",
    "Pattern of one player's shots with one group of clubs in one month.",
    ("player_id", "club_group", "month_on"),
    (
        *known("player_id", required=True),
        _GROUP,
        day("month_on", "First day of the month.", required=True),
        text("club", "The club, the one most struck of the group in that month.", required=True),
        integer("n_shots", "Counting shots with it.", required=True),
        integer("n_sessions", "Sessions.", required=True),
        integer("n_mishits", "Shots that carry less than 80 % of the month's own middle.", required=True),
        text("reason", "Why the pattern is null: too_few_shots, no_offline, no_spread; else empty.", required=True),
        number("anchored_share", "", "Share of carries anchored in a measured flight.", required=True),
        number("club_speed_mps", "m/s", "Mean club speed."),
        number("club_speed_error_mps", "m/s", "Standard error of it, between sessions."),
        number("speed_ratio", "", "Median ball speed over club speed."),
        number("launch_deg", "deg", "Median launch."),
        number("spin_rpm", "rpm", "Median spin."),
        number("mishit_rate", "", "Rate of mishits, posterior mean."),
        number("mishit_low", "", "Lower end of its 95 % interval."),
        number("mishit_high", "", "Upper end of its 95 % interval."),
        number("mishit_error", "", "Its standard error."),
        number("carry_m", "m", "Middle of the core: comparable carry."),
        number("carry_error_m", "m", "Standard error of it, between sessions where there are three."),
        number("run_m", "m", "Median run."),
        number("total_m", "m", "Carry and run."),
        number("direction_deg", "deg", "Middle of the core: direction of the landing point; right is positive."),
        number("direction_error_deg", "deg", "Standard error of it."),
        number("carry_sd_m", "m", "Standard deviation of carry in the core, tails included."),
        number("direction_sd_deg", "deg", "Standard deviation of direction in the core, tails included."),
        number("log_sd_error", "", "Standard error of the logarithm of that of direction: tails, and what sessions differ by."),
        number("correlation", "", "Between carry and direction."),
        number("offline_m", "m", "Middle of offline."),
        number("offline_sd_m", "m", "Standard deviation of offline, tails included."),
        number("ellipse_long_m", "m", "Long half axis of the ellipse that holds four of five of the next shots."),
        number("ellipse_short_m", "m", "Short half axis."),
        number("ellipse_tilt_deg", "deg", "Tilt of the long axis from across toward along the line of play."),
        number("tail_share", "", "Share of directions in a part of the core that is four times as wide: its tails."),
        number("tail_share_error", "", "Standard error of it."),
        number("carry_model_error_m", "m", "Standard deviation of carry_m over three sets of coefficients of drag and lift."),
        number("tail_correlation", "", "Correlation of the errors of direction_sd_deg and tail_share."),
        number("carry_pooled_m", "m", "carry_m by coefficients pooled from other published measurements."),
        number("carry_bearman_harvey_m", "m", "carry_m by the coefficients of Bearman and Harvey."),
    ),
)

STROKE_MONTH = Table(
    "stroke_month",
    "What one player's drives of one month cost on one course.",
    ("player_id", "month_on", "course"),
    (
        *_PLAYER_MONTH,
        _COURSE,
        text("standard", "Whose strokes follow the drive.", required=True),
        integer("n_shots", "Drives of the month.", required=True),
        integer("n_tee_shots", "Tee shots of the course.", required=True),
        number("club_speed_mps", "m/s", "Mean club speed."),
        number("direction_sd_deg", "deg", "Standard deviation of direction.", required=True),
        number("per_tee_shot", "strokes", "Expected strokes to hole out from the tee, at the best aim.", required=True),
        number("per_round", "strokes", "Sum over the tee shots.", required=True),
        number("per_round_low", "strokes", "Lower end of its 90 % interval.", required=True),
        number("per_round_high", "strokes", "Upper end of its 90 % interval.", required=True),
        number("clean_per_round", "strokes", "The same if every drive found the fairway: what distance decides.", required=True),
        number("rough_per_round", "strokes", "Strokes lost to rough.", required=True),
        number("trees_per_round", "strokes", "Strokes lost to trees.", required=True),
        number("water_per_round", "strokes", "Strokes lost to water.", required=True),
        number("out_of_bounds_per_round", "strokes", "Strokes lost out of bounds.", required=True),
        number("fairway_share", "", "Share of drives in the fairway.", required=True),
        number("trees_share", "", "Share of drives among trees.", required=True),
        number("water_share", "", "Share of drives in water.", required=True),
        number("out_share", "", "Share of drives out of bounds.", required=True),
        number("change", "strokes", "Strokes a round of the last three months less those of the reference months."),
        number("change_distance", "strokes", "Part of it from distance."),
        number("change_trouble", "strokes", "Part of it from trouble."),
        number("change_error", "strokes", "Standard error of the change."),
        number("change_low", "strokes", "Lower end of the change's 90 % interval."),
        number("change_high", "strokes", "Upper end of the change's 90 % interval."),
        number("chance_cost", "", "Probability that the change costs strokes."),
        number("recent_speed_mps", "m/s", "Club speed of the last three months."),
        number("recent_speed_low_mps", "m/s", "Lower end of its 90 % interval."),
        number("recent_speed_high_mps", "m/s", "Upper end of its 90 % interval."),
        number("recent_scatter_deg", "deg", "Scatter of direction of the last three months."),
        number("recent_scatter_low_deg", "deg", "Lower end of its 90 % interval."),
        number("recent_scatter_high_deg", "deg", "Upper end of its 90 % interval."),
        number("change_speed_mps", "m/s", "Club speed of the last three months less that of the reference months."),
        number("change_scatter_deg", "deg", "Scatter of direction likewise."),
        number("change_total_m", "m", "Carry and run likewise."),
        integer("recent_n", "Drives of the last three months."),
        integer("reference_n", "Drives of the reference months."),
        day(
            "reference_from_on",
            "First of the reference months: 6 to 12 back, the last before a break, or 3 to 5 back.",
        ),
        day("reference_to_on", "Last of the reference months."),
        text("reason", "Why the change is null: no_reference; else empty.", required=True),
        number("change_speed_error_mps", "m/s", "Standard error of the change of club speed, of both sides."),
    ),
)

BREAK_EVEN = Table(
    "break_even",
    "What a gain of speed or of scatter may cost one player on one course, from the newest month.",
    ("player_id", "course"),
    (
        *known("player_id", required=True),
        _COURSE,
        day("month_on", "Month of the pattern.", required=True),
        number("total_m_per_mps", "m", "Carry and run for 1 m/s of club speed.", required=True),
        number("speed_gain_mps", "m/s", "Gain of club speed.", required=True),
        number("scatter_price_deg", "deg", "Scatter that it may cost until strokes are even; null: more than 20°."),
        number("scatter_gain_deg", "deg", "Gain of scatter.", required=True),
        number("speed_price_mps", "m/s", "Club speed that it may cost until strokes are even; null: more than 25 m/s."),
    ),
)

TRADEOFF_LINE = Table(
    "tradeoff_line",
    "One point of a line of equal strokes on one player's trade-off map of one course.",
    ("player_id", "course", "step", "point_no"),
    (
        *known("player_id", required=True),
        _COURSE,
        number("step", "strokes", "Strokes a round against where the player is now; 0: the same.", required=True),
        integer("point_no", "Position along the line, by club speed.", required=True),
        number("club_speed_mps", "m/s", "Club speed.", required=True),
        number("direction_sd_deg", "deg", "Standard deviation of direction.", required=True),
    ),
)

ROUND_MONTH = Table(
    "round_month",
    "What one player's score cards of one month say, per 18 holes.",
    ("player_id", "month_on"),
    (
        *_PLAYER_MONTH,
        integer("n_rounds", "Cards with holes and strokes.", required=True),
        integer("n_holes", "Holes on them.", required=True),
        number("score", "strokes", "Strokes per 18 holes.", required=True),
        number("score_low", "strokes", "Lower end of its 90 % interval."),
        number("score_high", "strokes", "Upper end of its 90 % interval."),
        integer("n_tee_shots", "Tee shots that were meant to find a fairway.", required=True),
        number("fairway_share", "", "Share of them that did."),
        number("fairway_low", "", "Lower end of its 90 % interval."),
        number("fairway_high", "", "Upper end of its 90 % interval."),
        number("penalties", "strokes", "Penalty strokes from the tee per 18 holes."),
        number("penalties_low", "strokes", "Lower end of its 90 % interval."),
        number("penalties_high", "strokes", "Upper end of its 90 % interval."),
    ),
)

SCORE_GAIN = Table(
    "score_gain",
    "Whether the change of one player's tee game shows in the score, over the same months.",
    ("player_id",),
    (
        *_PLAYER_MONTH,
        _COURSE,
        day("recent_from_on", "First of the three months.", required=True),
        integer("n_rounds", "Rounds of the three months.", required=True),
        number("score", "strokes", "Strokes per 18 holes in these months.", required=True),
        number("score_low", "strokes", "Lower end of its 90 % interval."),
        number("score_high", "strokes", "Upper end of its 90 % interval."),
        number("round_sd", "strokes", "Standard deviation of one round of 18 holes within a month."),
        day("reference_from_on", "First of the reference months."),
        day("reference_to_on", "Last of the reference months."),
        integer("n_reference_rounds", "Rounds of the reference months.", required=True),
        number("expected_change", "strokes", "Change of strokes a round that the drives say."),
        number("expected_low", "strokes", "Lower end of its 90 % interval."),
        number("expected_high", "strokes", "Upper end of its 90 % interval."),
        number("score_change", "strokes", "Change of strokes per 18 holes that the cards say."),
        number("change_low", "strokes", "Lower end of its 90 % interval."),
        number("change_high", "strokes", "Upper end of its 90 % interval."),
        integer("rounds_to_see", "Rounds before and after alike that would show the expected change four times in five."),
        text("state", "shows, against, not_yet, drives_unclear, too_small or no_reference.", required=True),
        integer("n_tee_shots", "Tee shots on the cards of the three months.", required=True),
        number("drive_fairway_share", "", "Share of fairways that the drives' pattern gives.", required=True),
        number("card_fairway_share", "", "Share of fairways on the cards."),
        number("card_fairway_low", "", "Lower end of its 90 % interval."),
        number("card_fairway_high", "", "Upper end of its 90 % interval."),
        text("fairway_state", "agrees, fewer, more (on the cards) or unknown.", required=True),
    ),
)

TABLES: tuple[Table, ...] = (
    HOME_COURSE,
    SHOT_FLIGHT,
    BALL_CELL,
    COMPARABLE_SHOT,
    BALL_FACTOR,
    TRANSFER_MONTH,
    QUARTILE_MONTH,
    PATTERN_MONTH,
    STROKE_MONTH,
    BREAK_EVEN,
    TRADEOFF_LINE,
    ROUND_MONTH,
    SCORE_GAIN,
)
