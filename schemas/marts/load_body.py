"""Marts of load and body. The coach's hold load, availability and a neutral note: no answer, region, item or absence."""

from __future__ import annotations

from dataclasses import replace

from schemas.core import load_body as core
from schemas.core.lasting import BODY_LASTING
from schemas.tables import Table, day, integer, known, text, truth

_PHYSIO = ("physio",)
_OWN = ("physio", "player")
_COACH = ("coach", "physio")
_ALL = ("coach", "physio", "player")

_NOW = (
    *("week_swings", "usual_week_swings", "week_change_swings", "week_full_effort", "usual_week_full_effort"),
    *("week_effort_min", "usual_week_effort_min", "month_percentile", "days_known_7", "days_known_28"),
    *("days_since_easy", "days_since_swing_free", "days_assumed_28"),
)
_DAY = {column.name: column for column in core.LOAD_DAY.columns}


def _of(name: str, table: Table, readers: tuple[str, ...]) -> Table:
    """A mart with the columns of a table."""
    return Table(name, table.title, table.grain, table.columns, readers)


BURDEN = replace(
    _of("mart_physio_burden", core.BURDEN, _PHYSIO),
    columns=(
        *core.BURDEN.columns,
        truth("is_told", "An absence has ever been handed in; else no injury means nothing.", required=True),
    ),
)

LOAD_NOW = Table(
    "mart_load_now",
    "Load of one player on the last day.",
    ("player_id",),
    (*known("player_id alias", required=True), day("on_date", "The day.", required=True), *(_DAY[name] for name in _NOW)),
    _COACH,
)

AVAILABILITY = Table(
    "mart_coach_availability",
    "Whether a player can train, and whether the physio asks for a word; never why.",
    ("player_id",),
    (
        *known("player_id alias", required=True),
        text("state", "full, modified, not_available, not_known (28 days silent), or not_shared (no consent).", required=True),
        truth(
            "asks_for_talk", "The physio would like to talk with the player before the next full-effort session.", required=True
        ),
    ),
    _ALL,
)

PHYSIO_PLAYER = Table(
    "mart_physio_player",
    "What the physio needs to know of a player beside flags.",
    ("player_id",),
    (
        *known("player_id alias", required=True),
        *known("birth_year handed"),
        *core.PLAYER_SIDE.columns[1:],
        truth("health_consent", "Body reports may be kept.", required=True),
        text("state", "Availability."),
    ),
    _PHYSIO,
)

NOTE = Table(
    "mart_physio_note",
    "What a player wrote beside an answer in the last four weeks.",
    ("player_id", "on_date", "what"),
    (
        *known("player_id", required=True),
        day("on_date", "Day of the answer, or last day of the form's week.", required=True),
        text("what", "checkin, or form_REGION.", required=True),
        text("note", "As written.", required=True),
    ),
    _PHYSIO,
)

ABSENCE = Table(
    "mart_physio_absence",
    "An absence without an end, and what was done since it began.",
    ("player_id", "began_on", "kind"),
    (
        *known("player_id alias began_on", required=True),
        text("kind", "Reason of the absence.", required=True),
        *known("region onset"),
        integer("n_days_since", "Days with a session, rest apart, after its first day.", required=True),
        day("last_session_on", "The last of them; null where there is none."),
    ),
    _PHYSIO,
)

DECISION = Table(
    "mart_physio_decision",
    "A decision about a flag on load or body.",
    ("player_id", "decided_on", "role", "flag_id"),
    (
        *known("player_id decided_on role flag_id", required=True),
        text("kind", "Kind of the flag.", required=True),
        text("region", "Its region; empty where none applies.", required=True),
        day("raised_on", "When it was raised.", required=True),
        *known("decision", required=True),
        *known("until note"),
        text("state", "Where the flag stands by this decision; null when a later decision replaced it."),
    ),
    _PHYSIO,
)

_LASTING = [column for column in BODY_LASTING.columns if column.name != "lasts"]
LASTS = Table(
    "mart_physio_lasting",
    "A difference of a region's stiffness from the first answers, or from a year ago, that lasts.",
    BODY_LASTING.grain,
    tuple(_LASTING),
    _OWN,
)

MARTS: tuple[Table, ...] = (
    _of("mart_load_day", core.LOAD_DAY, _ALL),
    _of("mart_load_week", core.LOAD_WEEK, _ALL),
    _of("mart_load_club_week", core.LOAD_CLUB_WEEK, _ALL),
    LOAD_NOW,
    AVAILABILITY,
    _of("mart_coach_youth_note", core.YOUTH_NOTE, _COACH),
    _of("mart_physio_youth_note", core.YOUTH_NOTE, _OWN),
    PHYSIO_PLAYER,
    _of("mart_physio_body_day", core.BODY_DAY, _OWN),
    _of("mart_physio_body_week", core.BODY_WEEK, _OWN),
    _of("mart_physio_answering", core.ANSWERING, _OWN),
    _of("mart_physio_problem_week", core.PROBLEM_WEEK, _OWN),
    _of("mart_physio_problem_case", core.PROBLEM_CASE, _OWN),
    _of("mart_physio_mobility", core.MOBILITY_CHANGE, _OWN),
    LASTS,
    _of("mart_physio_association", core.ASSOCIATION, _OWN),
    NOTE,
    ABSENCE,
    DECISION,
    _of("mart_physio_prevalence", core.PREVALENCE_WEEK, _PHYSIO),
    BURDEN,
)
