"""The table of returns: each session since a break or a change, against the normal before."""

from __future__ import annotations

from schemas.tables import Table, day, integer, known, number, text

SESSION_SINCE = Table(
    "session_since",
    "What is known after one session since a break or a change, against the player's normal before it.",
    ("player_id", "since_on", "club_group", "metric", "n_since"),
    (
        *known("player_id", required=True),
        day("since_on", "First session after the break, or the day that was named.", required=True),
        text("club_group", "Group of clubs.", required=True),
        text("metric", "club_speed_mps, scatter_side_m or aim_deg.", required=True),
        integer("n_since", "Number of this session since that day; 0: none has come yet.", required=True),
        text("cause", "break (21 days or more without a session), or the kind of the named change.", required=True),
        day("until_on", "Last day of the normal before.", required=True),
        text("session_id", "The session; null while none has come."),
        day("on_date", "Its local day."),
        number("value", "unit of the metric", "Session value, after the device's offset where one is known."),
        integer("n_before", "Sessions of the 12 weeks before.", required=True),
        number("normal", "unit of the metric", "Their mean; null when there was none."),
        integer(
            "n_level", "Last sessions up to this one: of speed five at most, of scatter and direction fifteen.", required=True
        ),
        number("level", "unit of the metric", "Mean of these."),
        number("change", "change unit", "That mean less the normal; null with a reason."),
        number("change_low", "change unit", "Lower end of its 90 % interval."),
        number("change_high", "change unit", "Upper end."),
        number("worthwhile", "change unit", "Usual band: the smallest worthwhile change on either side.", required=True),
        number("within", "", "Probability that the true change lies within the band."),
        text("state", "back, not_back or not_clear; null with a reason."),
        text("reason", "Empty; or no_session, few_before (fewer than 4 sessions), few_since (fewer than 2).", required=True),
        day("first_back_on", "First session after which it was shown to lie within the band; null: none yet."),
    ),
)

TABLES: tuple[Table, ...] = (SESSION_SINCE,)
"""Tables of this area."""
