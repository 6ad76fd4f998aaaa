"""The session summary: what one player did with one group of clubs in one session."""

from __future__ import annotations

from types import MappingProxyType

from schemas.fields import FIELDS
from schemas.tables import Column, Table, day, integer, known, number, numbers, text, truth

_SPEED_RATIO = ("", "Ball speed over club speed, shot by shot.")

SUMMARY_METRICS: MappingProxyType[str, tuple[str, str]] = MappingProxyType(
    {
        name: _SPEED_RATIO if name == "speed_ratio" else (FIELDS[name].unit, FIELDS[name].description)
        for name in (
            "club_speed_mps",
            "ball_speed_mps",
            "speed_ratio",
            "carry_m",
            "offline_m",
            "launch_deg",
            "spin_rpm",
            "attack_deg",
            "path_deg",
            "face_deg",
            "strike_side_mm",
            "strike_height_mm",
        )
    }
)
"""Quantities that a session is summarised in: name to unit and description."""

SCATTER_METRICS: tuple[str, ...] = ("offline_m", "carry_m")
"""Quantities whose scatter is followed: left-right and long-short."""


def _of_metric(name: str) -> tuple[Column, ...]:
    unit, description = SUMMARY_METRICS[name]
    return (
        integer(f"{name}_n", f"Shots behind the centre and spread of {name}; 0: not measured.", required=True),
        number(f"{name}_centre", unit, f"Robust mean of the session. {description} Null when n is 0."),
        number(f"{name}_spread", unit, f"Standard deviation about the centre of {name}. Null when n is below 3."),
    )


def _of_scatter(name: str) -> tuple[Column, ...]:
    return (
        integer(f"{name}_scatter_n", f"Shots behind {name}_log_mad.", required=True),
        number(f"{name}_log_mad", "", f"Log of the capped mean absolute deviation of {name} (in m) about its median."),
        text(f"{name}_log_mad_reason", f"Why {name}_log_mad is null: not_measured, too_few (below 5) or no_spread."),
    )


SESSION_CLUB = Table(
    "session_club",
    "One session of one player with one group of clubs: the counting shots of the club most struck in that group.",
    ("session_id", "player_id", "club_group"),
    (
        *known("session_id player_id", required=True),
        text("club_group", "Group of clubs: driver, fairway, hybrid, iron, wedge, putter.", required=True),
        day("on_date", "Local day of the session in the academy's time zone.", required=True),
        text("session_kind", "Kind of the session.", required=True),
        *known("device_id ball indoors"),
        text("club", "The club summarised: the one most struck in the group (of equals the first by name).", required=True),
        truth(
            "is_usual_club",
            "It is also the club that the player has struck most in this group up to that day.",
            required=True,
        ),
        integer("n_group_shots", "Counting shots with all clubs of the group.", required=True),
        integer("n_shots", "Counting shots with the club summarised.", required=True),
        integer("n_mishits", "Of these, mishits by the stated rule; null when too few shots have what the rule reads."),
        number("mishit_rate", "", "n_mishits over the shots that could be judged; null likewise."),
        *(column for name in SUMMARY_METRICS for column in _of_metric(name)),
        *(column for name in SCATTER_METRICS for column in _of_scatter(name)),
        number(
            "within_pct",
            "%",
            "What was taken off club and ball speed because cold or tired balls had another share than in the player's first "
            "sessions; null: not a driver session on the range.",
        ),
        integer(
            "offline_m_wild_n",
            "Of offline_m_scatter_n, wild shots: far to a side of the session's middle, by the stated rule. Null below 8 shots.",
        ),
        numbers(
            "offline_m_far",
            "m",
            "How far to a side of the session's middle shots ended, of those beyond 1.5 of its robust standard deviations; "
            "null where offline_m_wild_n is.",
        ),
        number(
            "offline_m_mad",
            "m",
            "Median of how far to a side of the session's middle shots ended; null where offline_m_wild_n is.",
        ),
        integer("speed_ratio_told_n", "Shots of which both speed_ratio and offline_m were measured."),
        numbers(
            "speed_ratio_lost",
            "",
            "Share of the session's median speed_ratio that shots lack, of those that lie more than 1.5 robust standard "
            "deviations below it and whose offline_m was measured.",
        ),
        numbers(
            "speed_ratio_lost_side",
            "",
            "Of the same shots, in their order: how far to a side of the session's middle they ended, in robust standard "
            "deviations of offline_m.",
        ),
    ),
)

STILL_SESSION = Table(
    "still_session",
    "Carry and offline of one session and group of clubs as they would be in still reference air.",
    ("session_id", "player_id", "club_group"),
    (
        *known("player_id", required=True),
        day("month_on", "First day of the month.", required=True),
        *known("session_id", required=True),
        text("club_group", "Group of clubs.", required=True),
        *known("club", required=True),
        *(
            column
            for name in ("carry_m", "offline_m")
            for column in (*_of_metric(name), *_of_scatter(name))
            if not column.name.endswith("_reason")
        ),
        integer("offline_m_wild_n", "Of offline_m_scatter_n, wild shots, as in session_club."),
        numbers("offline_m_far", "m", "Distances of shots far to a side, as in session_club."),
        number("offline_m_mad", "m", "Median distance of shots to a side, as in session_club."),
    ),
)

BALL_SUM = Table(
    "ball_sum",
    "What the drives of one session tell of cold and tired balls, summed.",
    ("session_id", "player_id"),
    (
        *known("player_id session_id", required=True),
        day("on_date", "Local day of the session in the academy's time zone.", required=True),
        day("month_on", "First day of the month.", required=True),
        integer("n_balls", "Drives of the normal swing with a club speed.", required=True),
        integer("n_counting", "Of these, drives that count.", required=True),
        numbers(
            "products",
            "",
            "Products, within the session, of what each course of cold and tired balls makes of the drives, and of 100 times the "
            "log of their speed: the upper half of the table, row by row.",
            required=True,
        ),
        numbers("means", "", "Means of these courses over the drives that count; null when none does."),
    ),
)

MONTH_SPREAD = Table(
    "month_spread",
    "Spread within the sessions of a month of one player with one group of clubs.",
    ("player_id", "club_group", "month_on"),
    (
        *known("player_id", required=True),
        text("club_group", "Group of clubs.", required=True),
        day("month_on", "First day of the month.", required=True),
        number("lateral_spread_m", "m", "Standard deviation of offline within sessions, pooled."),
        number("depth_spread_m", "m", "Standard deviation of carry within sessions, pooled."),
    ),
)

RECENT_SPREAD = Table(
    "recent_spread",
    "Spread within the driver sessions of one player in the 28 days up to the last day.",
    ("player_id",),
    (
        *known("player_id", required=True),
        integer("n_shots_28", "Driver shots with a club speed.", required=True),
        number("lateral_spread_28_m", "m", "Standard deviation of offline within sessions, pooled."),
        number("lateral_spread_low_m", "m", "Lower end of its 90 % interval."),
        number("lateral_spread_high_m", "m", "Upper end."),
    ),
)

WITHIN_SESSION = Table(
    "within_session",
    "One player's drives within sessions, pooled over the last half year: cold start and tiring.",
    ("player_id",),
    (
        *known("player_id", required=True),
        integer("n_sessions", "Sessions with three drives or more.", required=True),
        integer("n_balls", "Drives.", required=True),
        integer("n_early_balls", "Drives among the first balls of a session.", required=True),
        number("cold_pct", "%", "Club speed of the first ball against the session's level; null: too few early drives."),
        number("cold_low_pct", "%", "Lower end of its 90 % interval."),
        number("cold_high_pct", "%", "Upper end of its 90 % interval."),
        integer("full_from_ball", "First ball within half a percent of the level; null: the cold start is not clear."),
        integer("tired_from_ball", "Ball from which speed may fall.", required=True),
        integer("n_late_balls", "Drives beyond it.", required=True),
        number("tired_pct", "%", "Change of club speed each ten balls beyond it; null: too few."),
        number("tired_low_pct", "%", "Lower end of its 90 % interval."),
        number("tired_high_pct", "%", "Upper end of its 90 % interval."),
    ),
)

TABLES: tuple[Table, ...] = (SESSION_CLUB, BALL_SUM, STILL_SESSION, MONTH_SPREAD, RECENT_SPREAD, WITHIN_SESSION)
