"""Tables of trends, own normals, the squad's norms, shifts and device offsets."""

from __future__ import annotations

from schemas.tables import Table, day, integer, known, number, numbers, text, truth

TREND_POINT = Table(
    "trend_point",
    "What is known of one quantity of one player after one session, from what had been struck by then.",
    ("player_id", "club_group", "metric", "session_id"),
    (
        *known("player_id session_id", required=True),
        text("club_group", "Group of clubs.", required=True),
        text("club", "The club.", required=True),
        text("metric", "Quantity; see schemas/trend_metrics.py for units.", required=True),
        text("series", "Empty; or a device that cannot be compared with the others: it is followed on its own.", required=True),
        day("on_date", "Local day of the session.", required=True),
        text("device_id", "Device; empty when it was not named.", required=True),
        integer("n", "Shots behind the value.", required=True),
        number("value", "unit of the metric", "Session value, after the device's offset where one is known.", required=True),
        number("offset", "change unit", "Device offset that was taken off.", required=True),
        number("level", "unit of the metric", "Level of the trend.", required=True),
        number("level_low", "unit of the metric", "Lower end of its 90 % interval.", required=True),
        number("level_high", "unit of the metric", "Upper end.", required=True),
        number("change_28", "change unit", "Change of the level over 28 days; null before there are 28 days."),
        number("change_28_low", "change unit", "Lower end of its 90 % interval."),
        number("change_28_high", "change unit", "Upper end."),
        number(
            "p_up",
            "",
            "Share of the distribution behind the interval of the change above none; by itself no chance that it is real.",
        ),
        number(
            "p_better",
            "",
            "Share of that distribution above the smallest worthwhile change; a change is called clear from .9 on.",
        ),
        number("p_trivial", "", "Share of it between the two."),
        number("p_worse", "", "Share of it below minus the smallest worthwhile change."),
        number("worthwhile", "change unit", "Smallest worthwhile change, as known then.", required=True),
        number("odd", "", "Probability that the session was odd.", required=True),
        number("usual", "unit of the metric", "The player's own normal before this session; null while there is none."),
        number("usual_sd", "change unit", "Standard deviation of a session about it."),
        integer("usual_n", "Own sessions behind it.", required=True),
        number("chart_up", "", "Cumulative sum of rises, in standard deviations.", required=True),
        number("chart_down", "", "Cumulative sum of falls.", required=True),
        number("p_chart_up", "", "Chance of so large a sum when nothing has happened.", required=True),
        number("p_chart_down", "", "The same for falls.", required=True),
        text("state", "learning, steady, rising, falling or stalled.", required=True),
        number(
            "p_stall",
            "",
            "Chance of so clear an end of a rise when there was none; 1 where there is nothing to test.",
            required=True,
        ),
    ),
)

NORM = Table(
    "trend_norm",
    "What a quarter takes for usual in the squad, from the year before it.",
    ("metric", "club_group", "from_on"),
    (
        text("metric", "Quantity.", required=True),
        text("club_group", "Group of clubs.", required=True),
        day("from_on", "First day on which it is used.", required=True),
        number(
            "session_sd", "change unit", "Standard deviation between sessions (form, day), without shot noise.", required=True
        ),
        number("shot_sd", "change unit", "Standard deviation between shots of a session.", required=True),
        number("typical_error", "change unit", "Typical error of a session of usual length.", required=True),
        number("worthwhile", "change unit", "Smallest worthwhile change.", required=True),
        number("detectable", "change unit", "Minimal detectable change between two sessions, 95 %.", required=True),
        number("correlation", "", "Lag-1 autocorrelation of form from session to session.", required=True),
        integer("n_players", "Players behind it.", required=True),
        integer("n_pairs", "Pairs of sessions behind it; 0: prior values are used.", required=True),
        truth("is_prior", "Prior values: the squad has too few data yet.", required=True),
        day(
            "prior_on",
            "Month of the federation's norms from which the smallest worthwhile change is taken; null: not from there.",
        ),
    ),
)

SHIFT = Table(
    "trend_shift",
    "One confirmed shift of one quantity of one player.",
    ("player_id", "club_group", "metric", "series", "found_on"),
    (
        *known("player_id", required=True),
        text("club_group", "Group of clubs.", required=True),
        text("metric", "Quantity.", required=True),
        text("series", "See trend_point.", required=True),
        day("found_on", "Day of the session at which the chart found it.", required=True),
        day("began_on", "Day of the first session at the new level, as dated then.", required=True),
        truth("upward", "The level rose.", required=True),
    ),
)

BASELINE = Table(
    "baseline",
    "A player's level in one quantity over the last twelve weeks, drawn toward the squad by as much as own data leave open.",
    ("player_id", "club_group", "metric"),
    (
        *known("player_id", required=True),
        text("club_group", "Group of clubs.", required=True),
        text("metric", "Quantity.", required=True),
        number("own_level", "unit of the metric", "Weighted mean of own sessions.", required=True),
        number("level", "unit of the metric", "The same, drawn toward the squad.", required=True),
        number("level_low", "unit of the metric", "Lower end of its 90 % interval.", required=True),
        number("level_high", "unit of the metric", "Upper end.", required=True),
        number("squad_share", "", "Share of the level that is squad, 0 to 1; null with fewer than three players."),
        integer("n_sessions", "Own sessions in these weeks.", required=True),
        integer("n_shots", "Shots in them.", required=True),
        truth("learning", "Fewer than eight sessions in all: the normal is still being learned.", required=True),
    ),
)

FEWEST_SHARERS = 3
"""Offset of a device that fewer players have used beside another one is not told: player and device cannot be told apart."""

DEVICE_OFFSET = Table(
    "device_offset",
    "What one device reads above the first used of those that can be compared with it, from a day on.",
    ("device_id", "metric", "from_on"),
    (
        text("device_id", "Device.", required=True),
        text("metric", "Quantity.", required=True),
        day("from_on", "First day whose sessions are corrected by it.", required=True),
        number("offset", "change unit", "Offset that is taken off.", required=True),
        number("error", "change unit", "Its standard error; null when it cannot be told."),
        integer("n_players", "Players behind it.", required=True),
        integer("n_bridges", "Players who also used another device.", required=True),
        text(
            "basis",
            "two devices (players who used both within 28 days), moved (as sessions tell), or decided (a person said so).",
            required=True,
        ),
    ),
)

TREND_STATE = Table(
    "trend_state",
    "What a night goes on from in the trend of one quantity of one player: a state of the filter, and levels of closed months.",
    ("player_id", "club_group", "club", "metric", "series"),
    (
        *known("player_id", required=True),
        text("club_group", "Group of clubs.", required=True),
        text("club", "The club.", required=True),
        text("metric", "Quantity.", required=True),
        text("series", "See trend_point.", required=True),
        day("month_on", "The last month on which it rests.", required=True),
        integer("n_sessions", "Sessions of the series up to the end of that month.", required=True),
        integer("leads_to", "Number of the session to which the state leads, from 0.", required=True),
        integer("confirmed_at", "Number of the session at which the last shift was confirmed; 0: none was.", required=True),
        numbers(
            "state", "scale units", "Six values for each of 48 points of the grid: see measures/trend/filter.py.", required=True
        ),
        numbers("levels", "scale units", "Level after each of the sessions.", required=True),
        integer("digest", "Digest of the player's month that it rests on: where that differs, it does not stand.", required=True),
    ),
)

TABLES: tuple[Table, ...] = (TREND_POINT, TREND_STATE, NORM, SHIFT, BASELINE, DEVICE_OFFSET)
