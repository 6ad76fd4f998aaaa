"""Settings of one academy, as academy.toml holds them. Read and checked by ``pipelines.settings``; passed down from there."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, get_args

if TYPE_CHECKING:
    from schemas.course import Course

Language = Literal["en", "de"]
LANGUAGES: tuple[str, ...] = get_args(Language)
"""Languages of the pages; each has a file of texts in ``reports/words``."""

DayWithoutRow = Literal["unknown", "off"]
SpeedUnit = Literal["mph", "m/s", "km/h"]
LengthUnit = Literal["yd", "m"]
OFF = "off"
"""In place of a time: not at all."""


@dataclass(frozen=True)
class Units:
    """Units shown on pages; files and the warehouse are SI.

    Attributes
    ----------
    speed : {"mph", "m/s", "km/h"}
    length : {"yd", "m"}
        Of carry, offline and scatter.
    """

    speed: SpeedUnit = "mph"
    length: LengthUnit = "yd"


@dataclass(frozen=True)
class Access:
    """Who may see what, beyond the defaults: the coach sees load, availability and a neutral note, nothing of the body.

    Attributes
    ----------
    coach_sees_availability : bool
        "full", "modified" or "not available"; never why.
    coach_sees_load : bool
    minor_age : int
        Players younger than this are minors: their page speaks to player and guardian.
    """

    coach_sees_availability: bool = True
    coach_sees_load: bool = True
    minor_age: int = 18

    def may_be_minor(self, birth_year: int | None, year: int) -> bool:
        """Whether a player may be a minor in that year: in the year in which they reach the age, the birthday may lie ahead."""
        return birth_year is not None and year - birth_year <= self.minor_age


@dataclass(frozen=True)
class Alerts:
    """How many alerts the academy wants to answer.

    Attributes
    ----------
    per_week : int
        Most alerts a week for the whole squad, and as many about the body; what is beyond waits in the list as a notice.
    false_share : float
        Share of alerts that may be false, of those about the body apart (false-discovery rate), 0 to 1.
    quiet_after_days : int
        Days without sessions or answers, when some were due, until ``quiet`` is said.
    """

    per_week: int = 15
    false_share: float = 0.10
    quiet_after_days: int = 10


@dataclass(frozen=True)
class Times:
    """When ``schedule`` does what, in the academy's time zone.

    Attributes
    ----------
    intake_every_min : int
        Minutes between two looks into the inbox; 0: none.
    pages_every_min : int
        An intake that finds the pages older than this makes them anew, so that a morning's answers are seen before practice;
        0: only the night does.
    nightly_at, weekly_at : str
        ``HH:MM``, or ``off``; the weekly review is on Mondays.
    backup : bool
        Whether the weekly review makes a backup.
    """

    intake_every_min: int = 15
    pages_every_min: int = 60
    nightly_at: str = "02:30"
    weekly_at: str = "06:00"
    backup: bool = True


@dataclass(frozen=True)
class ReferenceAir:
    """Air to which carry is restated.

    Attributes
    ----------
    temp_c, pressure_hpa, humidity_pct : float
        Default: 15 degC, 1013.25 hPa, dry: the standard atmosphere at sea level.
    """

    temp_c: float = 15.0
    pressure_hpa: float = 1013.25
    humidity_pct: float = 0.0


@dataclass(frozen=True)
class Share:
    """What the academy agreed to share with its federation: sums over groups of persons, never anything about one.

    Attributes
    ----------
    folder : str
        Folder or URL of the federation; empty: nothing is shared or taken.
    academy : str
        Name of the academy there.
    levels, speed_blocks, data_quality : bool
        What of it is shared.
    take_norms : bool
        Whether the federation's norms are taken from there.
    speed_phase : str
        Names of the plan's phases that are speed blocks, apart by semicolons.
    first_month : str
        First month that is shared, ``YYYY-MM``; empty: the last that is over when sharing begins.
    """

    folder: str = ""
    academy: str = ""
    levels: bool = False
    speed_blocks: bool = False
    data_quality: bool = False
    take_norms: bool = False
    speed_phase: str = "speed block"
    first_month: str = ""

    @property
    def is_on(self) -> bool:
        """Whether anything is shared."""
        return bool(self.folder) and (self.levels or self.speed_blocks or self.data_quality)


@dataclass(frozen=True)
class Academy:
    """Everything that academy.toml settles.

    Attributes
    ----------
    name, time_zone : str
        ``time_zone`` is an IANA name; local days are counted in it.
    language : {"en", "de"}
    standard : str
        Baseline of expected strokes for players who have none of their own: tour, scratch, 80, 90 or 100.
    altitude_m : float
        Where the academy lies; used when no pressure was measured.
    wind_height_m : float
        Height above the ground at which the wind of the sessions is measured.
    course : str
        Name of the course that counts where a player's home course is not named; one of ``courses`` or a default (``open``,
        ``tree-lined``).
    courses : tuple of Course
        The academy's own courses, beside the two defaults.
    day_without_row : {"unknown", "off"}
        What a day is on which a player has no row: unknown, or a day off.
    group_day_without_row : dict
        The same for the players of a group, by its name; of the groups of a player the first that is named here decides.
    range_ball_factor : dict
        Device id to carry of a range ball over carry of a premium ball; missing: learned, or said to be unknown.
    keep_years : dict
        Kind of file to whole years for which its rows are kept; a kind that is not named is kept until somebody erases it.
    id_key : bytes
        Secret of the workspace from which ids of flags are made; it stands in a file of its own, never in academy.toml.
    """

    name: str
    time_zone: str
    language: Language = "en"
    units: Units = field(default_factory=Units)
    access: Access = field(default_factory=Access)
    alerts: Alerts = field(default_factory=Alerts)
    reference_air: ReferenceAir = field(default_factory=ReferenceAir)
    times: Times = field(default_factory=Times)
    share: Share = field(default_factory=Share)
    standard: str = "80"
    altitude_m: float = 0.0
    wind_height_m: float = 2.0
    course: str = "tree-lined"
    courses: tuple[Course, ...] = ()
    day_without_row: DayWithoutRow = "unknown"
    group_day_without_row: dict[str, DayWithoutRow] = field(default_factory=dict)
    range_ball_factor: dict[str, float] = field(default_factory=dict)
    keep_years: dict[str, int] = field(default_factory=dict)
    id_key: bytes = field(default=b"", repr=False)
