"""Tables of load, body answers, problem forms, mobility and decisions, as the nightly measures write them."""

from __future__ import annotations

from schemas.tables import Column, Table, day, integer, known, number, text, truth

_SWINGS: tuple[Column, ...] = (
    integer("swings_full", "Full swings; null: unknown."),
    integer("swings_part", "Part swings."),
    integer("swings_dry", "Swings without a ball."),
    integer("swings_all", "All swings; null when the full ones are unknown."),
    integer(
        "swings_full_effort", "Full swings at 98.5 % or more of the player's usual fast swing with that club; null: unknown."
    ),
)

LOAD_SESSION = Table(
    "load_session",
    "Load of one session: swings, and effort x minutes, never merged.",
    ("session_id",),
    (
        *known("session_id player_id", required=True),
        day("on_date", "Local day.", required=True),
        text("kind", "Kind of session.", required=True),
        truth("is_rest", "A day off on purpose.", required=True),
        *_SWINGS,
        integer("holes", "Holes played."),
        number("minutes", "min", "Length; 0 on a rest day."),
        number("effort", "", "Rating of effort, 0 to 10."),
        number("effort_min", "", "Effort times minutes; null when either is missing."),
    ),
)

_DERIVED: tuple[Column, ...] = (
    number("week_swings", "", "Swings of the last 7 days, scaled by the days known; null below 5 of 7."),
    number("month_swings", "", "Swings of the last 28 days, scaled by the days known; null below 20 of 28."),
    number("week_full_effort", "", "Full-effort swings of the last 7 days, scaled; null below 5 of 7."),
    number("month_full_effort", "", "Full-effort swings of the last 28 days, scaled; null below 20 of 28."),
    number("week_effort_min", "", "Effort x minutes of the last 7 days, scaled; null below 5 of 7."),
    number("month_effort_min", "", "Effort x minutes of the last 28 days, scaled; null below 20 of 28."),
    integer("days_known_7", "Days of the last 7 whose swings are known.", required=True),
    integer("days_known_28", "Days of the last 28 whose swings are known.", required=True),
    number("month_percentile", "%", "Percentile of month_swings in the player's own history; null below 84 earlier days."),
    number("acute_swings", "", "Exponentially weighted mean day, span 7."),
    number("chronic_swings", "", "Exponentially weighted mean day, span 28; null before 14 known days."),
    number("acute_effort_min", "", "The same of effort x minutes, span 7."),
    number("chronic_effort_min", "", "The same of effort x minutes, span 28."),
    truth("is_provisional", "Fewer than 28 days known so far: the 28-day line still moves with each day."),
    number("largest_before_swings", "", "Largest day of the 30 days before."),
    number("jump_swings", "", "The day over that, minus 1."),
    number("largest_before_full_effort", "", "Largest day of the 30 days before, full-effort swings."),
    number("jump_full_effort", "", "The day over that, minus 1."),
    number("week_difference_swings", "", "Last 7 days minus the 7 before."),
    number("week_change_swings", "", "The same as a fraction; null on a small base."),
    number("usual_week_swings", "", "Mean week of the four weeks before the last 7 days."),
    number("usual_week_full_effort", "", "The same of full-effort swings."),
    number("usual_week_effort_min", "", "The same of effort x minutes."),
    number("ratio_swings", "", "Mean day of the last 7 over that of the 21 before: a description, never a limit."),
    number("monotony", "", "Mean day over sample SD of the last 7 days of effort x minutes, rest = 0; null when not defined."),
    number("strain", "", "week_effort_min times monotony."),
    integer("days_since_easy", "Days since an easy day; null when a day since then is unknown."),
    integer("hard_days_in_a_row", "Known days in a row without an easy one."),
    integer("days_since_swing_free", "Days since a day without swings; null when a day since then is unknown."),
    integer("swing_days_in_a_row", "Known days in a row with swings."),
)

LOAD_DAY = Table(
    "load_day",
    "One player on one day, from the first known day on: what was done, and the windows that end on it.",
    ("player_id", "on_date"),
    (
        *known("player_id", required=True),
        day("on_date", "Local day.", required=True),
        truth(
            "is_known",
            "There is a session or a rest row, or the day is assumed off; else it is unknown, not empty.",
            required=True,
        ),
        truth("is_rest", "A day off: entered as one, or assumed off.", required=True),
        integer("n_sessions", "Sessions of the day."),
        *_SWINGS,
        integer("holes", "Holes played."),
        number("minutes", "min", "Minutes of the day."),
        number("effort_min", "", "Effort times minutes."),
        integer("largest_session_swings", "Swings of the largest session."),
        integer("largest_session_full_effort", "Full-effort swings of the session with most of them."),
        number("hardest_effort", "", "Highest rating of the day."),
        *_DERIVED,
        truth("is_assumed_off", "No row came, and academy.toml says that such a day is a day off.", required=True),
        integer("days_assumed_28", "Days of the last 28 that are taken as days off for want of a row.", required=True),
    ),
)

LOAD_WEEK = Table(
    "load_week",
    "One player in one week (Monday first).",
    ("player_id", "week_starting"),
    (
        *known("player_id", required=True),
        day("week_starting", "Monday.", required=True),
        integer("n_days_known", "Days with a session or a rest row.", required=True),
        integer("n_rest_days", "Rest days.", required=True),
        *_SWINGS,
        integer("holes", "Holes played."),
        number("minutes", "min", "Minutes."),
        number("effort_min", "", "Effort times minutes."),
    ),
)

PLAN_WEEK = Table(
    "plan_week",
    "One planned week of one player, and what was done in its seven days.",
    ("player_id", "week_starting"),
    (
        *known("player_id", required=True),
        day("week_starting", "First of its seven days.", required=True),
        integer("n_days_known", "Of them, days with a session or a rest row.", required=True),
        integer("planned_swings_full", "Planned full swings."),
        integer("planned_swings_speed", "Planned swings at full effort."),
        number("planned_minutes", "min", "Planned minutes."),
        number("done_swings_full", "", "Full swings, scaled by the days known; null below 5 of 7."),
        number("done_swings_full_effort", "", "The same of full-effort swings."),
        number("done_minutes", "min", "The same of minutes."),
    ),
)

LOAD_CLUB_WEEK = Table(
    "load_club_week",
    "Recorded shots of one player, week and group of clubs.",
    ("player_id", "week_starting", "club_group"),
    (
        *known("player_id", required=True),
        day("week_starting", "Monday.", required=True),
        text("club_group", "Group of clubs.", required=True),
        integer("swings", "Shots, warm-up included.", required=True),
    ),
)

YOUTH_NOTE = Table(
    "youth_note",
    "One rule of thumb for young players that applies now: a note, not a limit.",
    ("player_id", "code"),
    (
        *known("player_id", required=True),
        text("code", "hours_above_age, no_free_day, short_sleep, full_effort_on_consecutive_days.", required=True),
        number("value", "", "What was found.", required=True),
        number("reference", "", "What the rule of thumb names.", required=True),
    ),
)

_ITEM: tuple[Column, ...] = (
    text("item", "fatigue, soreness, stress, sleep_trouble, sleep_h or stiff_REGION.", required=True),
    text("region", "Region of a stiffness item, else empty.", required=True),
)

BODY_DAY = Table(
    "body_day",
    "One answer of one player, with the own normal; the last 84 days.",
    ("player_id", "on_date", "item"),
    (
        *known("player_id", required=True),
        day("on_date", "Local day.", required=True),
        *_ITEM,
        number("answer", "", "As given.", required=True),
        number("percentile", "%", "Among the own answers of the 60 days before, ties half; null below 14."),
        number("normal", "", "Own mean of the answers 7 to 90 days old; null below 14."),
        number("normal_spread", "", "Spread that goes with it, with its floor."),
        integer("n_normal", "Answers behind it.", required=True),
        number("recent", "", "Mean of the last 3, 5 or 8 answers, whichever speak most clearly."),
        integer("n_recent", "Which of them."),
        number("score", "", "Distance of recent from normal in standard errors; worse is higher."),
        number("p_value", "", "Chance of as much when nothing has changed."),
        text("reason", "Empty, learning_normal or too_few_recent.", required=True),
    ),
)

BODY_WEEK = Table(
    "body_week",
    "One item of one player in one week (Monday first): the body map.",
    ("player_id", "week_starting", "item"),
    (
        *known("player_id", required=True),
        day("week_starting", "Monday.", required=True),
        *_ITEM,
        integer("n_answers", "Answers of the week, at least 1.", required=True),
        number("mean_answer", "", "Mean answer.", required=True),
        number("worst_answer", "", "Worst answer.", required=True),
        number("normal", "", "Mean own normal of the week; null while it is being learned."),
        integer("n_days_above", "Days whose last answers lay above the own normal.", required=True),
    ),
)

ANSWERING = Table(
    "answering",
    "Whether a player answers, on the last known day.",
    ("player_id",),
    (
        *known("player_id", required=True),
        day("last_answer_on", "Last day with an answer."),
        integer("silent_days", "Days in a row without one; null before the first."),
        number("adherence", "", "Share of the last 28 days with an answer; null before 28 days."),
        number("sleep_week_h", "h", "Mean sleep of the last 7 nights; null below 4 answers."),
    ),
)

PROBLEM_WEEK = Table(
    "problem_week",
    "One region in one weekly form, scored.",
    ("player_id", "week_ending", "region"),
    (
        *known("player_id week_ending region", required=True),
        integer("score", "0 to 100; null when an answer that was due is missing."),
        truth("is_problem", "Anything but full participation without a problem."),
        truth("is_substantial", "Cannot take part, or practice or performance clearly affected."),
        text("onset", "sudden or gradual."),
    ),
)

PROBLEM_CASE = Table(
    "problem_case",
    "The same region reported form after form: one case.",
    ("player_id", "region", "began_on"),
    (
        *known("player_id region", required=True),
        day("began_on", "First week_ending.", required=True),
        day("last_on", "Last week_ending.", required=True),
        integer("n_weeks", "Forms.", required=True),
        integer("cumulative_score", "Sum of the weekly scores; null when one is unknown."),
        integer("worst_score", "Highest weekly score."),
        truth("ever_substantial", "Substantial in one of the weeks."),
        text("onset", "How it began, as first given."),
    ),
)

_GROUP = text("group_name", "Of those who are in this group on the last day alone; empty: of everybody.", required=True)

PREVALENCE_WEEK = Table(
    "prevalence_week",
    "Share of the players who sent the weekly form that reported a problem: of everybody, and of each group.",
    ("group_name", "week_ending"),
    (
        *known("week_ending", required=True),
        integer("n_answered", "Players who sent the form.", required=True),
        integer("n_any", "With a problem.", required=True),
        integer("n_substantial", "With a substantial one.", required=True),
        *(
            number(name, "", description, required=True)
            for name, description in (
                ("share_any", "n_any over n_answered."),
                ("any_low", "Lower end of its 95 % interval."),
                ("any_high", "Upper end."),
                ("share_substantial", "n_substantial over n_answered."),
                ("substantial_low", "Lower end of its 95 % interval."),
                ("substantial_high", "Upper end."),
            )
        ),
        _GROUP,
    ),
)

BURDEN = Table(
    "burden",
    "Injuries with absence over the last 365 days, of everybody and of each group: all, one region, or one mode of onset.",
    ("group_name", "slice_kind", "slice"),
    (
        text("slice_kind", "all, region or onset.", required=True),
        text("slice", "Which; empty for all.", required=True),
        integer("n", "Injuries with absence.", required=True),
        number("hours", "h", "Hours of practice, play and training.", required=True),
        number("incidence", "", "Injuries per 1000 h.", required=True),
        number("incidence_low", "", "Lower end of the 95 % interval over players; null below 5 players."),
        number("incidence_high", "", "Upper end."),
        number("mean_days", "d", "Mean days of absence; null without an injury."),
        number("burden", "", "Days of absence per 1000 h.", required=True),
        number("burden_low", "", "Lower end of the 95 % interval over players."),
        number("burden_high", "", "Upper end."),
        _GROUP,
    ),
)

ASSOCIATION = Table(
    "association",
    "How stiffness of one region goes with the load of the 15 days up to it, inside a player, over the squad or over a group.",
    ("group_name", "player_id", "region"),
    (
        text("player_id", "Player; empty: the squad or the group, each player against themselves.", required=True),
        *known("region", required=True),
        number("total", "", "Points of stiffness for 10 more swings a day, held through all lags."),
        number("low", "", "Lower end of the 95 % interval; null for one player."),
        number("high", "", "Upper end."),
        number("p_value", "", "By circular shift of the load."),
        integer("n_pairs", "Days with an answer and enough known load.", required=True),
        integer("n_players", "Players behind it.", required=True),
        text("reason", "Empty, too_few_pairs or no_spread.", required=True),
        _GROUP,
    ),
)

PLAYER_SIDE = Table(
    "player_side",
    "The anatomical side of one player's lead and trail regions.",
    ("player_id",),
    (
        *known("player_id", required=True),
        text("lead_side", "Side nearer the target: left or right; null: the hand is not known."),
        text("trail_side", "The other side."),
    ),
)

MOBILITY_CHANGE = Table(
    "mobility_change",
    "One mobility screen against the first and the one before.",
    ("player_id", "test", "side", "date"),
    (
        *known("player_id date test side value_deg", required=True),
        number("since_first_deg", "deg", "Change since the first screen; null for the first."),
        number("since_last_deg", "deg", "Change since the one before."),
        number("detectable_deg", "deg", "Smallest change beyond measurement error, 95 %.", required=True),
        truth("is_published", "The error comes from a published value; else it is our own cautious choice.", required=True),
        text("verdict", "more, less or no clear change since the first."),
    ),
)

AVAILABILITY = Table(
    "availability",
    "Whether a player can train, on the last known day, and never why.",
    ("player_id",),
    (
        *known("player_id", required=True),
        text(
            "state",
            "full, modified, not_available, not_known (28 days silent), or not_shared (no consent to body reports).",
            required=True,
        ),
    ),
)

DECISION_SUBJECT = Table(
    "decision_subject",
    "What a decided flag was about, kept when corrected data give the flag another id. Never emptied by a run.",
    ("flag_id",),
    (
        *known("flag_id player_id", required=True),
        text("kind", "Kind of the flag.", required=True),
        text("metric", "Its metric; empty where none applies.", required=True),
        text("region", "Its region; empty where none applies.", required=True),
        text("audience", "coach, physio or both.", required=True),
        day("raised_on", "When it was raised.", required=True),
        number("strength", "", "How strong it was when it was decided.", required=True),
    ),
)

DECISION_STATE = Table(
    "decision_state",
    "Where one decided flag stands.",
    ("flag_id",),
    (
        text("flag_id", "The flag as it is now; the decided id when no flag fits any more.", required=True),
        text("decided_flag_id", "Id under which it was decided.", required=True),
        *known("player_id", required=True),
        text("state", "under_decision, date_passed, grown, or no_flag (corrected data no longer raise it).", required=True),
        *known("role decision decided_on", required=True),
        *known("until note"),
        integer("n_decisions", "Decisions about it so far.", required=True),
    ),
)

TABLES: tuple[Table, ...] = (
    LOAD_SESSION,
    LOAD_DAY,
    LOAD_WEEK,
    PLAN_WEEK,
    LOAD_CLUB_WEEK,
    YOUTH_NOTE,
    BODY_DAY,
    BODY_WEEK,
    ANSWERING,
    PROBLEM_WEEK,
    PROBLEM_CASE,
    PREVALENCE_WEEK,
    BURDEN,
    ASSOCIATION,
    MOBILITY_CHANGE,
    PLAYER_SIDE,
    AVAILABILITY,
    DECISION_SUBJECT,
    DECISION_STATE,
)
