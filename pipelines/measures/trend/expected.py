"""The course that is expected of a player: growth or ageing, and the season, as the squad's own data tell by each quarter."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.estimates import Estimates
from pipelines.measures.trend.season import YEAR_DAYS, Season, of_season, seasons

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Slopes = dict[tuple[str, str], float]
"""A year, by player and club, and by class of age with an empty club."""

Seasons = tuple[Season, dict[tuple[str, str], Season]]
NO_SEASON: Season = (0.0, 0.0)

EXPECTED: tuple[str, ...] = ("club_speed_mps", "ball_speed_mps", "comparable_carry_m")
"""Quantities of which a course is expected; the others have none."""

JUNIOR_UNTIL, OLDER_FROM = 18, 50
FEWEST_SESSIONS, FEWEST_DAYS = 12, 56
OWN_WANDER = 1.5
"""What a player's level may wander by chance over the days behind a slope, in scale units: slopes of few weeks tell little."""


@dataclass(frozen=True)
class YearlyPrior:
    """Yearly change of a class of age before its own data say better [scale units a year]."""

    mean: float
    mean_sd: float
    between_sd: float


PRIORS: MappingProxyType[str, YearlyPrior] = MappingProxyType(
    {"junior": YearlyPrior(2.0, 2.0, 2.0), "adult": YearlyPrior(0.0, 0.5, 1.0), "older": YearlyPrior(0.0, 0.7, 1.0)}
)
"""First guesses of ours, not from a source: the squad's own slopes replace them."""


COURSE: tuple[str, ...] = ("expected", "grown", "season_sine", "season_cosine", "growth")
"""The columns of :func:`expected_course`; 0 of quantities of which no course is expected."""


def age_class(birth_year: int | None, year: int) -> str:
    """Junior below 18 in that year, older from 50 on, else adult; adult where the year of birth is not known."""
    if birth_year is None:
        return "adult"
    age = year - birth_year
    return "junior" if age < JUNIOR_UNTIL else "older" if age >= OLDER_FROM else "adult"


def expected_course(rows: pl.DataFrame, born: dict[str, int], scale: float, estimates: Estimates | None = None) -> pl.DataFrame:
    """By how much each session is expected above the player's first one.

    Parameters
    ----------
    rows : polars.DataFrame
        Sessions of one quantity: player_id, club_group, club, series, on_date, from_on (first day of the quarter), x, variance.
    born : dict
        Year of birth by player, where known.
    scale : float
        Prior smallest worthwhile change [change unit].
    estimates : Estimates, optional
        Those of before.

    Returns
    -------
    polars.DataFrame
        In the order of the rows: expected, season_sine and season_cosine (the season as known in the quarter) [change unit],
        growth (of a junior's class [change unit a year]; 0 of the others); grown: expected without the season, of the sessions
        before one was known as it is seen since then.

    Notes
    -----
    From quarter to quarter, each from the days before it: a yearly slope, and a sine of the year. Slope: weighted least squares
    over 365 days; the mean of the class of age (junior, adult, older) with its prior, and the player's own drawn toward it by
    ``A / (A + s**2 + (1.5 / years)**2)``. Season: see :func:`pipelines.measures.trend.season.seasons`, from 730 days; slopes are
    those of values without it. Growth goes on from where it stood; the season is that of the day, so the course jumps where one
    becomes known: charts are then drawn anew (:mod:`pipelines.measures.trend.season_charts`). What was taken for growth before
    was the rise of a spring too, so slopes of the quarters before are estimated anew, without the season that is known now.

    Source: [Henderson1984] (drawing toward the class); own rule
    Checked: tests/unit/test_expected.py, tests/benchmarks/detection
    """
    numbered = rows.with_row_index("row").with_columns(
        pl.col("on_date").cast(pl.Int32).cast(pl.Float64).alias("day"),
        pl.struct("player_id", "club").rank("dense").cast(pl.Int64).alias("who") - 1,
    )
    who = numbered.select("who", "player_id", "club").unique().sort("who").select("player_id", "club").rows()
    known, squad = estimates or Estimates(), _Squad(born, scale)
    expected, sine, cosine, growth, grown = np.zeros((5, rows.height))
    then, now = _Growth(who, squad), _Growth(who, squad)
    past: list[tuple[dt.date, _Quarter]] = []
    for start in rows["from_on"].drop_nulls().unique().sort():
        quarter = _Quarter.of(numbered.filter(pl.col("from_on") == start))
        season = _season(_before(numbered, start, 730), known)
        slopes = _slopes_before(numbered, start, season, squad, known)
        at = quarter.row
        sine[at], cosine[at] = _own_seasons(quarter, who, season)
        gained = then.over(quarter, start, slopes)
        expected[at] = gained + of_season((sine[at], cosine[at]), quarter.day)
        growth[at] = _of_juniors(quarter, who, start, slopes, squad)
        grown[at] = gained if not now.begun and season[0] == NO_SEASON else 0.0
        past.append((start, quarter))
        if now.begun or season[0] != NO_SEASON:
            for earlier, part in past[-1:] if now.begun else past:
                anew = slopes if earlier == start else _slopes_before(numbered, earlier, season, squad, known)
                grown[part.row] = now.over(part, earlier, anew)
    return pl.DataFrame({"expected": expected, "grown": grown, "season_sine": sine, "season_cosine": cosine, "growth": growth})


@dataclass(frozen=True)
class _Squad:
    """Years of birth, where known, and the scale of the quantity."""

    born: dict[str, int]
    scale: float

    def age_class(self, player_id: str, year: int) -> str:
        return age_class(self.born.get(player_id), year)

    def slope(self, of_class: str, slopes: Slopes) -> float:
        """Slope of a class of age, as far as the squad has told it."""
        return slopes.get((of_class, ""), PRIORS[of_class].mean * self.scale)


@dataclass(frozen=True)
class _Quarter:
    """Sessions of a quarter, ordered by player, club and day.

    Attributes
    ----------
    row, day : (n,) arrays
        Number of the row and day of each session.
    own, first, last : (m,) arrays
        Numbers of the players with their clubs, and where the sessions of each begin and end.
    """

    row: Integers
    day: Floats
    own: Integers
    first: Integers
    last: Integers

    @staticmethod
    def of(rows: pl.DataFrame) -> _Quarter:
        ordered = rows.sort("who", "day", "row")
        who = ordered["who"].to_numpy()
        first = np.flatnonzero(np.diff(who, prepend=-1))
        last = np.append(first[1:], who.size) - 1
        return _Quarter(ordered["row"].to_numpy(), ordered["day"].to_numpy(), who[first], first, last)

    def spread(self, of_each: Floats) -> Floats:
        """A number of each player and club, at each of their sessions."""
        return np.asarray(np.repeat(of_each, self.last - self.first + 1))


class _Growth:
    """What players have gained so far, quarter after quarter."""

    def __init__(self, who: Sequence[tuple[str, str]], squad: _Squad) -> None:
        self._who, self._squad = who, squad
        self._gained, self._on = np.zeros(len(who)), np.full(len(who), np.nan)

    @property
    def begun(self) -> bool:
        return bool(np.isfinite(self._on).any())

    def over(self, quarter: _Quarter, start: dt.date, slopes: Slopes) -> Floats:
        """Gained by each session of a quarter."""
        own = quarter.own
        begun = np.isfinite(self._on[own])
        since = np.where(begun, self._on[own], quarter.day[quarter.first])
        slope = np.array([self._slope(self._who[number], start, slopes) for number in own])
        gained = quarter.spread(self._gained[own]) + quarter.spread(slope) * (quarter.day - quarter.spread(since)) / YEAR_DAYS
        self._gained[own], self._on[own] = gained[quarter.last], quarter.day[quarter.last]
        return np.asarray(gained)

    def _slope(self, key: tuple[str, str], start: dt.date, slopes: Slopes) -> float:
        if key in slopes:
            return slopes[key]
        return self._squad.slope(self._squad.age_class(key[0], start.year), slopes)


def _of_juniors(quarter: _Quarter, who: Sequence[tuple[str, str]], start: dt.date, slopes: Slopes, squad: _Squad) -> Floats:
    """Slope of the class of one who still grows; 0 of the others."""
    grows = [squad.age_class(who[number][0], start.year) == "junior" for number in quarter.own]
    return quarter.spread(np.where(grows, squad.slope("junior", slopes), 0.0))


def _own_seasons(quarter: _Quarter, who: Sequence[tuple[str, str]], season: Seasons) -> tuple[Floats, Floats]:
    of_squad, own = season
    found = np.array([own.get(who[number], of_squad) for number in quarter.own])
    return quarter.spread(found[:, 0]), quarter.spread(found[:, 1])


_READ = ("player_id", "club", "day", "x", "variance")


def _season(rows: pl.DataFrame, estimates: Estimates) -> Seasons:
    """See :func:`pipelines.measures.trend.season.seasons`."""
    read = rows.select(_READ)

    def make() -> list[Any]:
        of_squad, own = seasons(read)
        return [of_squad, [[*key, *season] for key, season in own.items()]]

    (sine, cosine), own = estimates.once("season", read, None, make)
    return (sine, cosine), {(player_id, club): (own_sine, own_cosine) for player_id, club, own_sine, own_cosine in own}


def _slopes_before(numbered: pl.DataFrame, start: dt.date, season: Seasons, squad: _Squad, estimates: Estimates) -> Slopes:
    """Slopes of the year before a quarter, of values without a season."""
    read = _before(numbered, start, 365).select(_READ)

    def make() -> list[Any]:
        return [[*key, slope] for key, slope in _slopes(_without(read, *season), squad.born, start.year, squad.scale).items()]

    found = estimates.once("slopes", read, (season, squad, start.year), make)
    return {(player_id, club): slope for player_id, club, slope in found}


def _without(rows: pl.DataFrame, of_squad: Season, own: dict[tuple[str, str], Season]) -> pl.DataFrame:
    """Values without the season of their player."""
    if of_squad == NO_SEASON:
        return rows
    known = [(*key, *season) for key, season in own.items()]
    schema = {"player_id": pl.String, "club": pl.String, "sine": pl.Float64, "cosine": pl.Float64}
    joined = rows.join(
        pl.DataFrame(known, schema=schema, orient="row"), on=["player_id", "club"], how="left", maintain_order="left"
    ).with_columns(pl.col("sine").fill_null(of_squad[0]), pl.col("cosine").fill_null(of_squad[1]))
    season = of_season((joined["sine"].to_numpy(), joined["cosine"].to_numpy()), joined["day"].to_numpy())
    return joined.with_columns(pl.col("x") - pl.Series(season)).drop("sine", "cosine")


def _before(rows: pl.DataFrame, start: dt.date, days: int) -> pl.DataFrame:
    return rows.filter(pl.col("on_date").is_between(start - dt.timedelta(days=days), start, closed="left"))


def _slopes(rows: pl.DataFrame, born: dict[str, int], year: int, scale: float) -> Slopes:
    """Yearly slope by player and club, and by class of age (with an empty club)."""
    fitted = _fits(rows)
    classes = np.array([age_class(born.get(player), year) for player in fitted["player_id"]])
    found: Slopes = {}
    slope, error = (
        fitted["slope"].to_numpy(),
        np.sqrt(fitted["error"].to_numpy() ** 2 + (OWN_WANDER * scale / fitted["years"].to_numpy()) ** 2),
    )
    for name, prior in PRIORS.items():
        mine = np.flatnonzero(classes == name)
        between = (prior.between_sd * scale) ** 2
        weight = 1.0 / (error[mine] ** 2 + between)
        middle = np.clip(slope[mine], *_reach(slope[mine], error[mine], between))
        known = weight.sum() + 1.0 / (prior.mean_sd * scale) ** 2
        mean = float(((weight * middle).sum() + prior.mean / (prior.mean_sd**2 * scale)) / known)
        found[name, ""] = mean
        own = mean + between / (between + error[mine] ** 2) * (middle - mean)
        found |= {
            (fitted["player_id"][int(row)], fitted["club"][int(row)]): float(one) for row, one in zip(mine, own, strict=True)
        }
    return found


def _reach(slope: Floats, error: Floats, between: float) -> tuple[float, float]:
    """Slopes beyond 2.5 standard deviations of the middle are cut: one who fell in a day has no slope."""
    if not slope.size:
        return 0.0, 0.0
    middle, sd = float(np.median(slope)), float(np.sqrt(np.median(error**2) + between))
    return middle - 2.5 * sd, middle + 2.5 * sd


def _fits(rows: pl.DataFrame) -> pl.DataFrame:
    """Weighted least squares of x on time, by player and club: slope and error a year, years between first and last."""
    weight, t = 1.0 / pl.col("variance"), pl.col("day") / YEAR_DAYS
    own = ("player_id", "club")
    mean_t, mean_x = (((weight * one).sum() / weight.sum()).over(own) for one in (t, pl.col("x")))
    about = rows.with_columns(weight.alias("weight"), (t - mean_t).alias("t"), (pl.col("x") - mean_x).alias("dx"))
    return (
        about.group_by(own, maintain_order=True)
        .agg(
            ((pl.col("weight") * pl.col("t") * pl.col("dx")).sum() / (pl.col("weight") * pl.col("t") ** 2).sum()).alias("slope"),
            (1.0 / (pl.col("weight") * pl.col("t") ** 2).sum()).sqrt().alias("error"),
            (pl.col("t").max() - pl.col("t").min()).alias("years"),
            pl.len().alias("n"),
        )
        .filter(pl.col("n") >= FEWEST_SESSIONS, pl.col("years") >= FEWEST_DAYS / YEAR_DAYS)
        .sort(own)
    )
