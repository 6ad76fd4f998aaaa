"""What is usual in a federation: levels, growth and scatter by sex, age and standard, and percentiles for its academies."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.special import ndtri, stdtrit

from pipelines.measures.federation.month import month_end
from pipelines.measures.federation.pooling import random_effects
from pipelines.measures.worthwhile import SHARE_OF_SPREAD
from schemas.shared import FEDERATION_NORM

FEWEST_PERSONS = 20
"""Persons below whom no percentiles are given. Own choice."""
HELD_DAYS = 100
"""A cohort that was shared in the last quarter of a year counts with its newest values."""
LEAST_MONTHS = 6
"""Growth over less is not told by the year: form would be taken for it."""
PERCENTILES = (10, 25, 50, 75, 90)

CELLS: tuple[tuple[str, ...], ...] = (
    (),
    ("sex",),
    ("age_band",),
    ("standard",),
    ("sex", "age_band"),
    ("sex", "standard"),
    ("sex", "age_band", "standard"),
)
"""Groupings of persons in which the federation tells what is usual."""
_BY = ("sex", "age_band", "standard")


@dataclass(frozen=True)
class Usual:
    """One quantity of one grouping of persons across academies.

    Attributes
    ----------
    mean, low, high : float
        With a 90 % interval, in the unit in which it was given.
    spread : float
        Standard deviation between persons.
    n_persons, n_academies : int
    """

    mean: float
    low: float
    high: float
    spread: float
    n_persons: int
    n_academies: int


def newest(levels: pl.DataFrame, month_on: dt.date) -> pl.DataFrame:
    """The newest row of every cohort by a month, not older than a quarter of a year: each person at most once.

    Parameters
    ----------
    levels : polars.DataFrame
        Rows of ``shared_level`` of all academies.
    month_on : datetime.date

    Notes
    -----
    Of a cohort that has ended nothing is shared any more; those of its persons who joined another are counted there, so that in
    the quarter of a year after it some may count twice.

    Source: own rule. Checked: tests/unit/test_federation_norms.py
    """
    since = month_on - dt.timedelta(days=HELD_DAYS)
    within = levels.filter(pl.col("month_on") <= month_on, pl.col("month_on") > since)
    return within.sort("academy", "cohort", "month_on").group_by("academy", "cohort", maintain_order=True).last()


def _pooled(n: np.ndarray, mean: np.ndarray, spread: np.ndarray) -> tuple[int, float, float]:
    """Persons, mean and standard deviation of several groups as one, from those of each."""
    total = int(n.sum())
    centre = float((n * mean).sum() / total)
    squares = float(((n - 1) * spread**2 + n * (mean - centre) ** 2).sum())
    return total, centre, float(np.sqrt(squares / (total - 1)))


def usual(rows: pl.DataFrame, mean: str, spread: str) -> Usual | None:
    """One quantity over persons of several academies, from means and standard deviations of groups.

    Parameters
    ----------
    rows : polars.DataFrame
        academy, n_persons, and the columns named by ``mean`` and ``spread``; rows without one of the two are left out.

    Returns
    -------
    Usual or None
        None where no row has both.

    Notes
    -----
    Standard deviation between persons: within groups and between them. One academy: t with one degree of freedom less than
    persons. Several: each academy's mean with its standard error, brought together by random effects, so that the interval
    is about academies like these, of which some have another device or other customs.

    Source: [KnappHartung2003]
    Checked: tests/unit/test_federation_norms.py
    """
    known = rows.filter(pl.col(mean).is_not_null(), pl.col(spread).is_not_null())
    if known.is_empty():
        return None
    n, x, sd = (known[name].to_numpy().astype(float) for name in ("n_persons", mean, spread))
    total, centre, between = _pooled(n, x, sd)
    own = []
    for _, part in sorted(known.group_by("academy"), key=lambda item: item[0]):
        own.append(_pooled(*(part[name].to_numpy().astype(float) for name in ("n_persons", mean, spread))))
    means = np.array([each[1] for each in own])
    variances = np.array([max(each[2] ** 2, 1e-6) / each[0] for each in own])
    if len(own) == 1:
        reach = float(stdtrit(total - 1, 0.95)) * between / np.sqrt(total)
        return Usual(centre, centre - reach, centre + reach, between, total, 1)
    pooled = random_effects(means, variances)
    return Usual(pooled.mean, pooled.low, pooled.high, between, total, len(own))


def apart(rows: pl.DataFrame, cells: Iterable[Sequence[str]] = CELLS) -> list[tuple[dict[str, str | None], pl.DataFrame]]:
    """Rows by sex, age and standard, in every grouping; what a grouping does not ask for is None, and rows that lack it stay out.

    Notes
    -----
    Source: own rule. Checked: tests/unit/test_federation_norms.py
    """
    found: list[tuple[dict[str, str | None], pl.DataFrame]] = []
    for names in cells:
        whole = rows.drop_nulls(list(names)) if names else rows
        parts = whole.sort(*_BY, "academy", "cohort").partition_by(list(names), maintain_order=True) if names else [whole]
        found += [(dict.fromkeys(_BY) | {name: part[name][0] for name in names}, part) for part in parts if not part.is_empty()]
    return found


def with_logs(rows: pl.DataFrame) -> pl.DataFrame:
    """Rows of ``shared_level`` with ``speed_x``, ``scatter_x`` (100 ln of the centres), and growth by the year.

    ``growth_year_pct`` and ``growth_year_spread_pct`` are null where the growth is over less than six months.

    Notes
    -----
    Source: own rule. Checked: tests/unit/test_federation_norms.py
    """
    months = 12 * (pl.col("month_on").dt.year() - pl.col("since_on").dt.year()) + (
        pl.col("month_on").dt.month().cast(pl.Int32) - pl.col("since_on").dt.month().cast(pl.Int32)
    )
    a_year = pl.when(months >= LEAST_MONTHS).then(12.0 / months)
    return rows.with_columns(
        (100.0 * pl.col("speed_centre_mps").log()).alias("speed_x"),
        (100.0 * pl.col("scatter_centre_m").log()).alias("scatter_x"),
        (pl.col("growth_pct") * a_year).alias("growth_year_pct"),
        (pl.col("growth_spread_pct") * a_year).alias("growth_year_spread_pct"),
    )


def federation_norms(levels: pl.DataFrame) -> pl.DataFrame:
    """Rows of ``federation_norm`` for every month for which anything was shared.

    Parameters
    ----------
    levels : polars.DataFrame
        Rows of ``shared_level`` of all academies.

    Notes
    -----
    Percentiles as of a log-normal distribution between persons with that mean and standard deviation: no academy shares single
    speeds. Groupings of fewer than 20 persons are left out.

    Source: own rule
    Checked: tests/unit/test_federation_norms.py
    """
    rows = []
    for month_on in sorted(set(levels["month_on"])):
        for cell, part in apart(with_logs(newest(levels, month_on))):
            n, x, sd = (part[name].to_numpy().astype(float) for name in ("n_persons", "speed_x", "speed_spread_pct"))
            total, centre, spread = _pooled(n, x, sd)
            if total < FEWEST_PERSONS:
                continue
            at = np.exp((centre + spread * ndtri(np.array(PERCENTILES) / 100.0)) / 100.0)
            rows.append(
                {
                    "month_on": month_on, **cell, "n_persons": total, "n_academies": part["academy"].n_unique(),
                    "speed_centre_mps": round(float(np.exp(centre / 100.0)), 2), "speed_spread_pct": round(spread, 1),
                    **{f"speed_p{share}_mps": round(float(v), 2) for share, v in zip(PERCENTILES, at, strict=True)},
                }
            )  # fmt: skip
    return pl.DataFrame(rows, schema=FEDERATION_NORM.polars_schema(), orient="row")


@dataclass(frozen=True)
class WorthwhilePrior:
    """A smallest worthwhile change of driver speed [%] for a squad that has too few data of its own.

    Attributes
    ----------
    month_on : date
        Newest month of the federation's norms that it rests on.
    worthwhile : float
    """

    month_on: dt.date
    worthwhile: float

    @property
    def from_on(self) -> dt.date:
        """First day on which it can be known: the month is over."""
        return month_end(self.month_on) + dt.timedelta(days=1)


def worthwhile_priors(norms: pl.DataFrame) -> list[WorthwhilePrior]:
    """Smallest worthwhile change of driver speed from the spread between persons who are alike, by month.

    Parameters
    ----------
    norms : polars.DataFrame
        Rows of ``federation_norm``.

    Notes
    -----
    0.2 times the standard deviation between persons, pooled over the groups of persons that tell most of sex, age and standard;
    months that have none which tells any are left out, since a whole federation is a mixed squad.

    Source: [Hopkins2004]
    Checked: tests/unit/test_federation_norms.py
    """
    known = pl.sum_horizontal(pl.col(name).is_not_null().cast(pl.Int64) for name in _BY)
    found = []
    for part in norms.with_columns(known.alias("known")).sort("month_on", *_BY).partition_by("month_on", maintain_order=True):
        alike = part.filter(pl.col("known") > 0, pl.col("known") == pl.col("known").max())
        if alike.height:
            n, sd = alike["n_persons"].to_numpy().astype(float), alike["speed_spread_pct"].to_numpy()
            found.append(WorthwhilePrior(part["month_on"][0], float(SHARE_OF_SPREAD * np.sqrt((n * sd**2).sum() / n.sum()))))
    return found
