"""Marts of the pages that every reader shares: players, their sessions by day and month, recent shots, and coverage."""

from __future__ import annotations

from dataclasses import replace

from schemas.core.story import PLAYER_STORY, SHARES
from schemas.core.summaries import WITHIN_SESSION
from schemas.tables import Table, day, integer, known, number, text, truth

_ALL = ("coach", "physio", "data", "player")

PLAYER = Table(
    "mart_player",
    "One player with what has come from them.",
    ("player_id",),
    (
        *known("player_id alias", required=True),
        *known("birth_year sex handed joined_on left_on"),
        truth("has_left", "Whether the player has left by the last day; from the leaving day on.", required=True),
        *known("standard"),
        text("home_course", "Course on which the player's speed and scatter are weighed; null before the first night."),
        day("first_session_on", "Local day of the first session that was not a rest day."),
        day("last_session_on", "Local day of the last session that was not a rest day."),
        integer("n_sessions", "Sessions that were not rest days.", required=True),
        integer("n_shots", "Shots, warm-up included.", required=True),
        integer("n_sided", "Of these, those with a direction or a distance to the side.", required=True),
    ),
    readers=_ALL,
)

PLAYER_GROUP = Table(
    "mart_player_group",
    "One group that a player is in on the last day.",
    ("player_id", "group_name"),
    known("player_id group_name", required=True),
    readers=("coach", "physio", "data"),
)

SESSION_CLUB = Table(
    "mart_session_club",
    "One session of one player with one group of clubs.",
    ("player_id", "on_date", "session_id", "club_group"),
    (
        *known("player_id session_id", required=True),
        text("club_group", "Group of clubs.", required=True),
        day("on_date", "Local day.", required=True),
        text("session_kind", "Kind of the session.", required=True),
        *known("device_id"),
        text("club", "The club summarised.", required=True),
        integer("n_shots", "Counting shots with it.", required=True),
        integer("n_mishits", "Of these, mishits."),
        number("mishit_rate", "", "Share of mishits."),
        integer("n_club_speed", "Shots with a club speed.", required=True),
        number("club_speed_mps", "m/s", "Robust mean of club speed."),
        number("club_speed_spread_mps", "m/s", "Standard deviation of club speed."),
        number("ball_speed_mps", "m/s", "Robust mean of ball speed."),
        number("speed_ratio", "", "Ball speed over club speed."),
        number("carry_m", "m", "Robust mean of carry."),
        number("depth_spread_m", "m", "Standard deviation of carry."),
        integer("n_offline", "Shots with an offline distance.", required=True),
        number("offline_m", "m", "Robust mean of offline; right is positive."),
        number("lateral_spread_m", "m", "Standard deviation of offline."),
        number("launch_deg", "deg", "Robust mean of launch."),
        number("spin_rpm", "rpm", "Robust mean of spin."),
        number("attack_deg", "deg", "Robust mean of attack."),
    ),
)

PLAYER_MONTH = Table(
    "mart_player_month",
    "One month of one player with one group of clubs.",
    ("player_id", "club_group", "month_on"),
    (
        *known("player_id", required=True),
        text("club_group", "Group of clubs.", required=True),
        day("month_on", "First day of the month.", required=True),
        integer("n_sessions", "Sessions.", required=True),
        integer("n_shots", "Counting shots.", required=True),
        number("club_speed_mps", "m/s", "Mean of the sessions' club speed, weighted by shots."),
        number("ball_speed_mps", "m/s", "Mean of the sessions' ball speed, weighted by shots."),
        number("carry_m", "m", "Mean of the sessions' carry, weighted by shots."),
        number("lateral_spread_m", "m", "Standard deviation of offline within sessions, pooled."),
        number("depth_spread_m", "m", "Standard deviation of carry within sessions, pooled."),
    ),
)

SHOT_RECENT = Table(
    "mart_shot_recent",
    "One of the last 60 counting driver shots of a player.",
    ("player_id", "on_date", "session_id", "shot_no"),
    (
        *known("player_id session_id shot_no", required=True),
        day("on_date", "Local day.", required=True),
        *known("club", required=True),
        *known("carry_m offline_m", required=True),
    ),
)

SHOT_THEN = Table(
    "mart_shot_then",
    "One of the last 60 counting driver shots of a player that are at least 180 days older than the newest.",
    SHOT_RECENT.grain,
    SHOT_RECENT.columns,
)

COVERAGE = Table(
    "mart_coverage",
    "What came of one player in one week.",
    ("player_id", "week_on"),
    (
        *known("player_id", required=True),
        day("week_on", "Monday of the week.", required=True),
        integer("n_session_days", "Days with a session that was no rest day.", required=True),
        integer("n_answer_days", "Days with answers, not what was answered; null: the player does not share them."),
    ),
    readers=_ALL,
)

SQUAD = Table(
    "mart_squad",
    "One player's line on the squad page; days are counted back from the last day.",
    ("player_id",),
    (
        *known("player_id alias", required=True),
        *known("left_on"),
        truth("has_left", "Whether the player has left by the last day; from the leaving day on.", required=True),
        day("last_session_on", "Local day of the last session that was not a rest day."),
        number("speed_level_mps", "m/s", "Level of club speed with driver after the last session."),
        number("speed_level_low_mps", "m/s", "Lower end of its 90 % interval."),
        number("speed_level_high_mps", "m/s", "Upper end."),
        number("change_28", "%", "Change of that level over 28 days."),
        number("change_28_low", "%", "Lower end of its 90 % interval."),
        number("change_28_high", "%", "Upper end."),
        *SHARES,
        text("state", "learning, steady, rising, falling or stalled."),
        integer("n_shots_28", "Driver shots with a club speed in the last 28 days.", required=True),
        number("lateral_spread_28_m", "m", "Standard deviation of offline within driver sessions of the last 28 days, pooled."),
        number("lateral_spread_low_m", "m", "Lower end of its 90 % interval."),
        number("lateral_spread_high_m", "m", "Upper end."),
        number("week_swings", "", "Swings of the last 7 days as in the load tables; null below 5 known days."),
        number("usual_week_swings", "", "Swings of a usual week, from the four before; null below 20 known days."),
        integer("days_known_7", "Days of the last 7 whose swings are known.", required=True),
        integer("n_days_28", "Days of the last 28 with an entry, rest days included.", required=True),
        integer("n_answers_14", "Days of the last 14 with answers, not what was answered; null: the player does not share them."),
    ),
    readers=("coach", "physio"),
)

WITHIN = replace(WITHIN_SESSION, name="mart_within_session")

IS_PAST = truth("is_past", "The session of that day lies 28 days and more before the last day; null: there is none.")
NOW = tuple(
    number(name, "m/s", f"{end} end of the 90 % interval of the level on the last day; null: it is not past.")
    for name, end in (("now_low", "Lower"), ("now_high", "Upper"))
)
IS_STALLED = truth("is_stalled", "An open flag says that the rise of driver speed has stopped.", required=True)
STORY = replace(
    PLAYER_STORY, name="mart_story", columns=(*PLAYER_STORY.columns[:2], IS_PAST, *NOW, IS_STALLED, *PLAYER_STORY.columns[2:])
)

MARTS: tuple[Table, ...] = (
    STORY,
    PLAYER,
    PLAYER_GROUP,
    SESSION_CLUB,
    PLAYER_MONTH,
    SHOT_RECENT,
    SHOT_THEN,
    COVERAGE,
    SQUAD,
    WITHIN,
)
