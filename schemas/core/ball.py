"""Derived tables of the ball: comparable carry, ball factors, transfer, patterns, strokes and the trade-off map."""

from __future__ import annotations

from schemas.tables import Table, day, integer, known, number, text, truth

_PLAYER_MONTH = (
    *known("player_id", required=True),
    day("month_on", "First day of the month.", required=True),
)
_COURSE = text("course", "Name of the course: open, tree-lined, or one of the academy's own.", required=True)
_GROUP = text("club_group", "Group of clubs: driver, fairway, hybrid, iron, wedge.", required=True)

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
    ),
)

BALL_FACTOR = Table(
    "ball_factor",
    "One ball on one device against the reference ball, as known at the end of one month.",
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
        day("known_on", "First month at whose end both factors were known; earlier months take theirs from it."),
    ),
)

TRANSFER_MONTH = Table(
    "transfer_month",
    "What became of club speed on its way to carry, one month of one player with one club.",
    ("player_id", "club", "month_on"),
    (
        *known("player_id club", required=True),
        _GROUP,
        day("month_on", "First day of the month.", required=True),
        integer("n_shots", "Shots with club speed, ball speed and launch.", required=True),
        integer("n_sessions", "Sessions.", required=True),
        number("club_speed_mps", "m/s", "Mean over sessions of the median club speed.", required=True),
        number("club_speed_error_mps", "m/s", "Standard error of it, between sessions; null below 3 sessions."),
        number(
            "speed_ratio", "", "Median ball speed over club speed, restated for the reference ball and device.", required=True
        ),
        number("launch_deg", "deg", "Median launch.", required=True),
        number("spin_rpm", "rpm", "Median spin."),
        number("carry_m", "m", "Mean over sessions of the median comparable carry."),
        number("carry_error_m", "m", "Standard error of it, between sessions; null below 3 sessions."),
        number("strike_loss", "", "Mean share of ball speed lost to strikes off the middle (rigid head)."),
        number("reference_club_speed_mps", "m/s", "Club speed of the reference months: 6 to 12 months earlier, or 3 to 5."),
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
        number("carry_error_m", "m", "Standard error of it."),
        number("run_m", "m", "Median run."),
        number("total_m", "m", "Carry and run."),
        number("direction_deg", "deg", "Middle of the core: direction of the landing point; right is positive."),
        number("direction_error_deg", "deg", "Standard error of it."),
        number("carry_sd_m", "m", "Standard deviation of carry in the core, tails included."),
        number("direction_sd_deg", "deg", "Standard deviation of direction in the core, tails included."),
        number("log_sd_error", "", "Standard error of the logarithm of either standard deviation."),
        number("correlation", "", "Between carry and direction."),
        number("offline_m", "m", "Middle of offline."),
        number("offline_sd_m", "m", "Standard deviation of offline, tails included."),
        number("ellipse_long_m", "m", "Long half axis of the ellipse that holds four of five of the next shots."),
        number("ellipse_short_m", "m", "Short half axis."),
        number("ellipse_tilt_deg", "deg", "Tilt of the long axis from across toward along the line of play."),
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
        day("reference_from_on", "First of the reference months: 6 to 12 months earlier, or 3 to 5 where there is none."),
        day("reference_to_on", "Last of the reference months."),
        text("reason", "Why the change is null: no_reference; else empty.", required=True),
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

TABLES: tuple[Table, ...] = (
    COMPARABLE_SHOT,
    BALL_FACTOR,
    TRANSFER_MONTH,
    PATTERN_MONTH,
    STROKE_MONTH,
    BREAK_EVEN,
    TRADEOFF_LINE,
)
