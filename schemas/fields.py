"""Each quantity once: name, kind of value, unit, limits, allowed words, description and where the limits come from.

Files, tables, marts and pages all take their columns from here. A limit is the edge of what is believed, set wide
enough for juniors and for the fastest swings; doubt inside the limits is a warning of the intake, not a limit.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import polars as pl

from schemas.clubs import CLUBS
from schemas.regions import REGIONS

ValueKind = Literal["text", "integer", "number", "truth", "instant", "day"]

POLARS_TYPE: MappingProxyType[ValueKind, pl.DataType] = MappingProxyType(
    {
        "text": pl.String(),
        "integer": pl.Int64(),
        "number": pl.Float64(),
        "truth": pl.Boolean(),
        "instant": pl.Datetime("us"),
        "day": pl.Date(),
    }
)

SQL_TYPE: MappingProxyType[ValueKind, str] = MappingProxyType(
    {
        "text": "VARCHAR",
        "integer": "BIGINT",
        "number": "DOUBLE",
        "truth": "BOOLEAN",
        "instant": "TIMESTAMP",
        "day": "DATE",
    }
)

ID_PATTERN = r"^[A-Za-z0-9][A-Za-z0-9_.-]{0,63}$"
"""Ids are letters, digits, ``_ . -``, begin with a letter or digit, and have at most 64 characters: none can be a path."""

PRACTICE = "common practice"
FORM = "form of the question"


@dataclass(frozen=True)
class Field:
    """One quantity.

    Attributes
    ----------
    name : str
        With its unit at the end where it has one: ``club_speed_mps``.
    kind : str
        text, integer, number, truth, instant (UTC) or day (local).
    unit : str
        Symbol of :mod:`schemas.units`, or ``""``.
    low, high : float or None
        Closed limits of what is accepted.
    allowed : tuple of str
        Words that are accepted; empty: any text.
    pattern : str
        Regular expression for text; empty: none.
    code, form : str
        Code of the rule behind the pattern, and what it asks for, in words; empty: that of an id.
    longest : int
        Most characters of a text.
    description, source : str
    """

    name: str
    kind: ValueKind
    unit: str
    description: str
    source: str
    low: float | None = None
    high: float | None = None
    allowed: tuple[str, ...] = ()
    pattern: str = ""
    code: str = ""
    form: str = ""
    longest: int = 200


def _number(name: str, unit: str, low: float, high: float, description: str, source: str = PRACTICE) -> Field:
    return Field(name, "number", unit, description, source, low, high)


def _count(name: str, high: int, description: str, source: str = PRACTICE, low: int = 0) -> Field:
    return Field(name, "integer", "", description, source, low, high)


def _rating(name: str, description: str) -> Field:
    return Field(name, "number", "", f"{description} 0 = none/best, 10 = worst.", FORM, 0, 10)


def _identity(name: str, description: str) -> Field:
    return Field(name, "text", "", description, "ids stay file-safe", pattern=ID_PATTERN, longest=64)


def _word(name: str, allowed: tuple[str, ...], description: str) -> Field:
    return Field(name, "text", "", description, "our words", allowed=allowed)


def _text(name: str, description: str, longest: int = 200) -> Field:
    return Field(name, "text", "", description, "-", longest=longest)


def _day(name: str, description: str) -> Field:
    return Field(name, "day", "", description, "-")


def _instant(name: str, description: str) -> Field:
    return Field(name, "instant", "", f"{description} Written with an offset, or as local time of the academy.", "-")


_IDENTITIES = (
    _identity("player_id", "The player, as the academy numbers them."),
    _identity("session_id", "One visit to bay, range, course or gym."),
    _identity("trial_id", "One technique trial."),
    _identity("flag_id", "One flag."),
    _identity("device_id", "The measuring device."),
    _identity("bay_id", "The bay or tee."),
)

_GROUP = r"[^;()]{1,40}"
_DATE = r"\d{4}-(?:(?:0[13578]|1[02])-(?:0[1-9]|[12]\d|3[01])|(?:0[469]|11)-(?:0[1-9]|[12]\d|30)|02-(?:0[1-9]|1\d|2[0-8]))"
_SPAN = rf"\((?:from {_DATE}|until {_DATE}|from {_DATE} until {_DATE})\)"
_LISTED = rf" *{_GROUP}(?:{_SPAN} *)?"

_PLAYER = (
    _text("alias", "Name shown on pages; a pseudonym is best.", 60),
    Field(
        "groups",
        "text",
        "",
        "Groups that the player is in: team, site, coach or any other; the academy's own names, set apart by semicolons. "
        "Where it matters, since or until when: U16 (until 2026-03-31); U18 (from 2026-04-01).",
        "our words",
        pattern=rf"^(?:{_LISTED};)*(?:{_LISTED}| *)$",
        code="group_list",
        form="names of at most 40 letters between semicolons; a day only behind a name: (from 2026-04-01), (until 2026-03-31)",
        longest=400,
    ),
    Field(
        "group_name",
        "text",
        "",
        "A group, as the players file spells it.",
        "our words",
        pattern=f"^{_GROUP}$",
        code="group_word",
        form="one name of at most 40 letters, without ; ( and )",
        longest=40,
    ),
    _text("home_course", "Course on which speed and scatter are weighed, as academy.toml names it; empty: the academy's.", 60),
    _count("birth_year", 2100, "Year of birth; the age is all that is used.", low=1900),
    _word("sex", ("female", "male", "other"), "For comparison groups only."),
    _word("handed", ("right", "left"), "Side the player swings from; gives lead and trail. Empty counts as unknown."),
    _day("joined_on", "First day at the academy."),
    _day("left_on", "Last day at the academy."),
    _word("standard", ("tour", "scratch", "80", "90", "100"), "Baseline of expected strokes to compare with."),
    Field("health_consent", "truth", "", "The player (or guardian) agreed to body reports being kept.", "data protection"),
    _number("height_cm", "cm", 80, 230, "Body height in centimetres."),
)

_SESSION = (
    _instant("started_at", "Beginning of the session."),
    _word(
        "kind",
        ("range", "speed", "trial", "test", "course", "gym", "rest"),
        "What it was; rest = a day off on purpose.",
    ),
    _number("duration_min", "min", 0, 900, "Length of the session."),
    _rating("effort", "How hard the whole session was, asked after it: 0 = rest, 10 = hardest ever."),
    _count("swings_full", 2000, "Full swings, at balls."),
    _count("swings_part", 3000, "Part swings, pitches and chips."),
    _count("swings_dry", 2000, "Swings without a ball."),
    _text("course", "Course that was played.", 60),
    _count("holes", 72, "Holes played."),
    _word("ball", ("range", "premium", "limited-flight", "other"), "Ball used."),
    Field("indoors", "truth", "", "Hit into a net or screen, carry computed by the device.", "-"),
    _number("air_temp_c", "degC", -20, 55, "Air temperature."),
    _number(
        "air_pressure_hpa",
        "hPa",
        600,
        1100,
        "Air pressure at the place, not reduced to sea level.",
        "standard atmosphere, 0-4000 m",
    ),
    _number("humidity_pct", "%", 0, 100, "Relative humidity."),
    _number("altitude_m", "m", -450, 4500, "Height above sea level."),
    _number("wind_mps", "m/s", 0, 30, "Wind speed at the height that academy.toml names as wind_height_m."),
    _number(
        "wind_from_deg",
        "deg",
        0,
        360,
        "Direction the wind comes from; 0 = from the target (head wind), 90 = from the right.",
    ),
    _text("note", "Free text.", 2000),
)

_SHOT = (
    _count("shot_no", 5000, "Number of the shot within its session, from 1.", low=1),
    _instant("struck_at", "When the ball was struck."),
    Field("club", "text", "", "The club.", "our words", allowed=CLUBS),
    _number(
        "club_speed_mps",
        "m/s",
        8,
        70,
        "Club-head speed just before impact.",
        "wide of 20-70 m/s for full swings; part swings and juniors are slower",
    ),
    _number(
        "ball_speed_mps",
        "m/s",
        5,
        105,
        "Ball speed just after impact.",
        "longest-drive contests reach about 100 m/s (from memory)",
    ),
    _number("launch_deg", "deg", -20, 75, "Launch angle above the horizontal."),
    _number("direction_deg", "deg", -75, 75, "Start direction; right of target is positive."),
    _number("spin_rpm", "rpm", 0, 15000, "Total spin.", "500-13000 rpm for full shots, wider for topped and wedge shots"),
    _number("spin_axis_deg", "deg", -90, 90, "Tilt of the spin axis; positive curves right."),
    _number("carry_m", "m", 0, 400, "Distance to the first landing, along the target line."),
    _number("offline_m", "m", -200, 200, "Distance right (+) or left (-) of the target line at landing."),
    _number("apex_m", "m", 0, 80, "Greatest height."),
    _number("descent_deg", "deg", 0, 90, "Angle of descent below the horizontal."),
    _number("attack_deg", "deg", -20, 20, "Attack angle; upward is positive."),
    _number("path_deg", "deg", -30, 30, "Club path; to the right of target is positive."),
    _number("face_deg", "deg", -30, 30, "Face angle; to the right of target is positive."),
    _number("loft_deg", "deg", -5, 80, "Loft delivered at impact."),
    _number("strike_side_mm", "mm", -60, 60, "Strike on the face; toward the toe is positive."),
    _number("strike_height_mm", "mm", -40, 40, "Strike on the face; above the middle is positive."),
    Field("counts", "truth", "", "false: a warm-up shot. Empty counts as true.", "-"),
    _text("arm", "Arm of the trial that the shot belongs to.", 40),
    _count("block_no", 500, "Block of the trial that the shot belongs to, from 1.", low=1),
    _text("sheet", "Order of shots of a trial, day by day: 8 warm-up, 5 normal, 5 wider | 8 warm-up, ...", 4000),
    _word(
        "end_rule",
        ("sheet", "settled", "stopped"),
        "Why a trial was ended: all shots of the sheet are struck, its result was settled before that, or it was stopped.",
    ),
    _text("felt", "What the player felt at this shot, in a word or two.", 60),
)

_BODY = (
    _day("date", "The local day."),
    _rating("fatigue", "Tiredness."),
    _rating("soreness", "Muscle soreness."),
    _rating("stress", "Stress."),
    _rating("sleep_trouble", "Trouble sleeping."),
    _number("sleep_h", "h", 0, 24, "Hours slept."),
    *(_rating(f"stiff_{region}", f"Stiffness: {region.replace('_', ' ')}.") for region in REGIONS),
    _day("week_ending", "Last day of the week that the form is about."),
    _word("region", (*REGIONS, "other"), "Region of the body."),
    *(
        _count(name, 3, f"{text} 0 = full/none, 1, 2, 3 = cannot/severe.", "four-question weekly form, own wording")
        for name, text in (
            ("participation", "Difficulty taking part."),
            ("modified", "Practice or play changed because of it."),
            ("performance", "Effect on performance."),
            ("symptoms", "Symptoms."),
        )
    ),
    _word("onset", ("sudden", "gradual"), "How it began."),
    _day("began_on", "First day."),
    _day("ended_on", "Last day; empty while it lasts."),
    _day("changed_on", "First day on which something is otherwise."),
    _word(
        "change_kind",
        ("pause", "technique", "equipment", "training", "other"),
        "What is otherwise since that day.",
    ),
    _word("absence_kind", ("injury", "illness", "other"), "Reason of the absence."),
    _word(
        "test",
        ("trunk_turn", "hip_inward_turn", "hip_outward_turn", "shoulder_turn", "wrist_bend", "other"),
        "Mobility screen.",
    ),
    _word("side", ("lead", "trail", "both"), "Side of the body."),
    _number("value_deg", "deg", -30, 270, "Angle reached."),
)

_PLAN_AND_PLAY = (
    _day("week_starting", "First day of the planned week."),
    _text("phase", "Name of the season phase.", 60),
    _count("swings_speed", 3000, "Planned swings at full effort."),
    _number("minutes", "min", 0, 6000, "Planned minutes of practice and training."),
    _text("question", "The one thing that changes.", 200),
    _text("normal_arm", "Name of the arm that is the player's normal.", 40),
    _text("arms", "Arms ordered by amount of the change, separated by | .", 400),
    _day("played_on", "Day of the round."),
    _count("round_no", 9, "Number of the round on its day, from 1; empty when there was one.", low=1),
    _text("event", "Event that the round belongs to.", 60),
    _count("event_round", 9, "Number of the round in its event, from 1.", low=1),
    _count("tee_shots", 36, "Tee shots with driver or wood on two- and three-shot holes."),
    _count("fairways", 36, "Of these, in the fairway."),
    _count("penalties", 40, "Penalty strokes from tee shots."),
    _count("strokes", 400, "Strokes of the round.", low=1),
    _day("decided_on", "Day of the decision."),
    _word("role", ("coach", "physio"), "Who decided."),
    _word(
        "decision",
        ("watch", "ease", "rest", "refer", "set aside", "device", "players", "unclear"),
        "What was decided; device, players or unclear: who moved, of a suspected device.",
    ),
    _day("until", "Last day for which the decision holds."),
    _text("flag_kind", "Kind of the flag; written by the command, so that the decision finds its flag after a correction.", 40),
    _day("raised_on", "Day on which the flag was raised; written by the command, for the same reason."),
)

FIELDS: MappingProxyType[str, Field] = MappingProxyType(
    {field.name: field for field in (*_IDENTITIES, *_PLAYER, *_SESSION, *_SHOT, *_BODY, *_PLAN_AND_PLAY)}
)
"""Every quantity by its name. A file's column ``kind`` of an absence is the field ``absence_kind``."""
