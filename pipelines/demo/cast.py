"""The players of the invented academy, named after birds: nobody in it is anybody."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime

START_ON = date(2024, 3, 4)
"""First day of the first season, a Monday."""
LAST_ON = date(2026, 9, 30)
LAST_EVENING = datetime(2026, 9, 30, 20, 30, tzinfo=UTC)
"""The clock of the invented academy's last night: its pages are written when its data end."""
"""Last day that the generator knows."""


@dataclass(frozen=True)
class Player:
    """One invented player.

    Attributes
    ----------
    player_id, alias, sex, handed, standard : str
    birth_year : int
    height_cm : float
    joined_on : datetime.date
    left_on : datetime.date or None
    consent : bool
        Body reports may be kept.
    driver_mps : float
        Own level of club speed with the driver on the first day.
    shot_cv : float
        Shot-to-shot variation of club speed.
    path_deg, attack_deg : float
        Own normal of path and attack with the driver, seen as if right-handed.
    week : str
        Pattern of the week, see :mod:`pipelines.demo.schedule`.
    answers : float
        Share of the days on which the check-in is answered.
    full_swings : int
        Usual full swings of one visit to the range.
    """

    player_id: str
    alias: str
    birth_year: int
    sex: str
    handed: str
    standard: str
    height_cm: float
    joined_on: date
    driver_mps: float
    shot_cv: float
    path_deg: float
    attack_deg: float
    week: str
    answers: float
    full_swings: int
    left_on: date | None = None
    consent: bool = True

    @property
    def groups(self) -> str:
        """Groups as a players file names them; empty: none."""
        return "; ".join(name for name, members in GROUPS.items() if self.player_id in members)

    @property
    def home_course(self) -> str:
        """The course on which most of the player's rounds are played."""
        return next((course for course, members in HOME_COURSES.items() if self.player_id in members), "Alder Wood")

    @property
    def number(self) -> int:
        """Number in the cast, from 1; it seeds the player's own random numbers."""
        return int(self.player_id[1:])


_A, _B, _C, _D = START_ON, date(2024, 9, 2), date(2025, 1, 6), date(2025, 3, 3)

CAST: tuple[Player, ...] = (
    Player("p01", "Heron", 1961, "male", "right", "80", 181, _A, 44.4, 0.013, 1.0, -1.0, "senior", 0.86, 60),
    Player("p02", "Curlew", 1999, "female", "right", "scratch", 172, _A, 43.5, 0.012, 0.5, 1.5, "keen", 0.90, 85),
    Player("p03", "Lapwing", 1996, "male", "right", "scratch", 184, _B, 50.0, 0.014, -0.5, 0.5, "keen", 0.80, 90),
    Player("p04", "Plover", 1988, "male", "right", "80", 178, _C, 47.0, 0.015, -1.5, -1.5, "weekend", 0.75, 70),
    Player("p05", "Dunlin", 1992, "female", "right", "90", 168, _A, 38.0, 0.016, 2.0, 1.0, "keen", 0.80, 70),
    Player("p06", "Siskin", 2011, "male", "right", "80", 158, _D, 38.5, 0.015, 1.5, -0.5, "junior", 0.72, 65),
    Player("p07", "Goldcrest", 1954, "male", "right", "90", 174, _A, 38.8, 0.014, -1.0, -1.0, "senior", 0.85, 50),
    Player(
        "p08", "Nuthatch", 1985, "male", "left", "80", 183, _A, 46.2, 0.015, 1.0, -0.5, "weekend", 0.70, 70, date(2025, 10, 31)
    ),
    Player("p09", "Redstart", 2001, "female", "right", "scratch", 170, _B, 42.8, 0.013, 1.0, 2.0, "junior", 0.90, 80),
    Player("p10", "Wheatear", 1979, "male", "right", "90", 180, _C, 43.8, 0.017, -3.0, -2.0, "weekend", 0.65, 65),
    Player("p11", "Whinchat", 1990, "male", "right", "80", 177, _A, 47.8, 0.015, 0.5, 0.0, "keen", 0.92, 85),
    Player("p12", "Dipper", 2009, "female", "right", "80", 165, _B, 38.6, 0.015, 0.0, 0.5, "junior", 0.86, 70),
    Player("p13", "Kingfisher", 1983, "female", "right", "100", 167, _D, 34.5, 0.018, -2.0, -1.0, "weekend", 0.85, 55),
    Player("p14", "Sandpiper", 1995, "male", "left", "80", 186, _A, 48.9, 0.015, -0.5, 1.0, "keen", 0.80, 80),
    Player("p15", "Avocet", 1997, "female", "right", "80", 171, _C, 40.2, 0.014, 1.0, 1.0, "keen", 0.80, 75),
    Player("p16", "Bittern", 1993, "male", "right", "80", 182, _C, 47.4, 0.014, 0.0, 0.5, "weekend", 0.85, 75),
    Player("p17", "Fieldfare", 1968, "male", "right", "90", 176, _D, 42.6, 0.015, -1.0, -1.0, "keen", 0.90, 60),
    Player("p18", "Redwing", 1987, "male", "right", "90", 179, _D, 44.9, 0.016, -2.0, -0.5, "weekend", 0.70, 75),
    Player("p19", "Chiffchaff", 2009, "female", "right", "scratch", 169, _C, 40.8, 0.013, 0.5, 1.5, "junior", 0.85, 75),
    Player("p20", "Waxwing", 1981, "male", "right", "90", 185, _D, 45.0, 0.016, -1.5, -1.0, "keen", 0.80, 70, consent=False),
    Player("p21", "Linnet", 1994, "female", "right", "scratch", 166, _A, 41.9, 0.012, 0.0, 1.0, "weekend", 0.90, 75),
    Player("p22", "Nightjar", 1976, "male", "left", "80", 180, _C, 45.5, 0.015, 0.5, 0.0, "weekend", 0.80, 65),
    Player("p23", "Bullfinch", 1972, "male", "right", "100", 175, _C, 41.0, 0.018, -2.5, -2.0, "senior", 0.60, 50),
    Player("p24", "Treecreeper", 1998, "female", "right", "tour", 173, _B, 44.6, 0.011, 0.5, 2.5, "keen", 0.90, 95),
)
"""Nine women and girls, three juniors, three who swing left-handed, ages 14 to 72, one who does not want body reports kept."""

GROUPS: dict[str, frozenset[str]] = {
    "Juniors": frozenset({"p06", "p09", "p12", "p19"}),
    "Club team": frozenset({"p02", "p03", "p09", "p19", "p21", "p24"}),
}
"""Two groups, two players in both; the others are in none."""

HOME_COURSES: dict[str, frozenset[str]] = {"Skerry Links": frozenset({"p21", "p22", "p23", "p24"})}
"""The second course, and who plays it; all others play the academy's own."""

EVENT, EVENT_COURSE, EVENT_FROM, EVENT_ROUNDS = "Eastermere Spring Series", "Alder Wood", date(2026, 4, 4), 4
"""The club team's event: of each member who plays that course the first four whole rounds from that day on."""
