"""Every key of academy.toml, with its comment, its default and what is allowed."""

from __future__ import annotations

from dataclasses import dataclass

from schemas.academy import LANGUAGES, OFF, Academy


@dataclass(frozen=True)
class Setting:
    """One key of a settings file.

    Attributes
    ----------
    section, key : str
    comment : str
        Stands above the key in a new file.
    default : str, int, float, bool or None
        None: the key is required.
    allowed : tuple of str
        Words that are accepted; empty: any text.
    low, high : float
        Closed limits of a number.
    """

    section: str
    key: str
    comment: str
    default: str | int | float | bool | None
    allowed: tuple[str, ...] = ()
    low: float = float("-inf")
    high: float = float("inf")


_BLANK = Academy(name="", time_zone="")
CLOCK = (*(f"{hour:02d}:{minute:02d}" for hour in range(24) for minute in range(60)), OFF)

SETTINGS: tuple[Setting, ...] = (
    Setting("academy", "name", "Name of the academy, as it stands on the pages.", None),
    Setting("academy", "time_zone", 'Time zone of the academy (IANA name, e.g. "Europe/Berlin"): days are counted in it.', None),
    Setting("academy", "language", f"Language of the pages: {' or '.join(LANGUAGES)}.", _BLANK.language, LANGUAGES),
    Setting(
        "academy",
        "standard",
        "Whose strokes a player is compared with, when the player has no standard of their own.",
        _BLANK.standard,
        ("tour", "scratch", "80", "90", "100"),
    ),
    Setting(
        "academy",
        "altitude_m",
        "Height above sea level in metres; gives the air pressure where none was measured.",
        _BLANK.altitude_m,
        low=-450,
        high=4500,
    ),
    Setting(
        "academy",
        "wind_height_m",
        "Height above the ground in metres at which wind is measured: 2 hand-held or on the tee, 10 by a weather service.",
        _BLANK.wind_height_m,
        low=0.5,
        high=100,
    ),
    Setting(
        "academy",
        "course",
        'Course that decides what speed and scatter are worth: "open", "tree-lined", or the name of one of [[courses]] below. '
        "A player whose home is another course has its name in the players file.",
        _BLANK.course,
    ),
    Setting(
        "academy",
        "day_without_row",
        'What a day is on which a player has no row: "unknown", or "off" where every session is handed in.',
        _BLANK.day_without_row,
        ("unknown", "off"),
    ),
    Setting(
        "units", "speed", "Unit of club and ball speed on pages: mph, m/s or km/h.", _BLANK.units.speed, ("mph", "m/s", "km/h")
    ),
    Setting("units", "length", "Unit of carry and scatter on pages: yd or m.", _BLANK.units.length, ("yd", "m")),
    Setting(
        "access",
        "coach_sees_availability",
        "Whether the coach sees full, modified or not available (never why).",
        _BLANK.access.coach_sees_availability,
    ),
    Setting("access", "coach_sees_load", "Whether the coach sees swings and effort.", _BLANK.access.coach_sees_load),
    Setting("access", "minor_age", "Players younger than this are minors.", _BLANK.access.minor_age, low=0, high=30),
    Setting(
        "alerts",
        "per_week",
        "Most alerts a week for the whole squad; the rest wait as notices.",
        _BLANK.alerts.per_week,
        low=0,
        high=1000,
    ),
    Setting(
        "alerts", "false_share", "Share of alerts that may be false, 0.01 to 0.5.", _BLANK.alerts.false_share, low=0.01, high=0.5
    ),
    Setting(
        "alerts",
        "quiet_after_days",
        "Days without sessions or answers, when some were due, until that is said.",
        _BLANK.alerts.quiet_after_days,
        low=3,
        high=120,
    ),
    Setting(
        "times",
        "intake_every_min",
        "Minutes between two looks into the inbox; 0: none.",
        _BLANK.times.intake_every_min,
        low=0,
        high=1440,
    ),
    Setting(
        "times",
        "pages_every_min",
        "An intake makes the pages anew when they are older than this many minutes; 0: only the night does.",
        _BLANK.times.pages_every_min,
        low=0,
        high=1440,
    ),
    Setting("times", "nightly_at", 'Time of the nightly run, HH:MM, or "off".', _BLANK.times.nightly_at, CLOCK),
    Setting("times", "weekly_at", 'Time of the weekly review, on Mondays, HH:MM, or "off".', _BLANK.times.weekly_at, CLOCK),
    Setting("times", "backup", "Whether the weekly review makes a backup.", _BLANK.times.backup),
    Setting(
        "reference_air",
        "temp_c",
        "Air to which carry is restated: degrees Celsius.",
        _BLANK.reference_air.temp_c,
        low=-20,
        high=50,
    ),
    Setting(
        "reference_air",
        "pressure_hpa",
        "Pressure in hPa, as at the place.",
        _BLANK.reference_air.pressure_hpa,
        low=600,
        high=1100,
    ),
    Setting("reference_air", "humidity_pct", "Relative humidity in percent.", _BLANK.reference_air.humidity_pct, low=0, high=100),
    Setting("share", "folder", "Folder or URL (s3://bucket/golf) of the federation; empty: nothing.", _BLANK.share.folder),
    Setting("share", "academy", "Name of the academy there: letters, digits, _ . - ; nobody else's.", _BLANK.share.academy),
    Setting(
        "share",
        "levels",
        "Share driver speed, its growth and scatter of groups of five persons or more, once a month.",
        _BLANK.share.levels,
    ),
    Setting("share", "speed_blocks", "Share what speed blocks brought, of five persons or more.", _BLANK.share.speed_blocks),
    Setting("share", "data_quality", "Share how complete the data of a month are.", _BLANK.share.data_quality),
    Setting("share", "take_norms", "Take what is usual in the federation from there.", _BLANK.share.take_norms),
    Setting(
        "share", "speed_phase", "Phases of the plan that are speed blocks; several apart by semicolons.", _BLANK.share.speed_phase
    ),
    Setting(
        "share",
        "first_month",
        "First month to share, YYYY-MM; empty: the last one that is over when sharing begins.",
        _BLANK.share.first_month,
    ),
)
"""Every setting in the order of a new file."""
