"""What is usual in a squad: spread between sessions and shots, typical error, smallest worthwhile change; by quarter."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.baseline.chances import detectable_change
from pipelines.measures.estimates import Estimates, by_quarter
from pipelines.measures.federation.norms import WorthwhilePrior
from pipelines.measures.trend.priors import PRIORS
from pipelines.measures.worthwhile import RANGE, squad_worthwhile

Floats = NDArray[np.float64]

HISTORY_DAYS = 365
FEWEST_PLAYERS, FEWEST_PAIRS = 5, 100
PAIR_LAG, PAIR_DAYS = 3, 28
USUAL_SHOTS = 12.0

_CHI2_MEDIAN = 0.454936423119573  # chi-square with one degree of freedom


@dataclass(frozen=True)
class Norm:
    """Norms of one quantity and group of clubs, in its change unit; see the table ``trend_norm``."""

    metric: str
    club_group: str
    from_on: dt.date
    session_sd: float
    shot_sd: float
    typical_error: float
    worthwhile: float
    detectable: float
    n_players: int
    n_pairs: int
    is_prior: bool
    prior_on: dt.date | None = None


def session_sd(differences: Floats, noise: Floats) -> float:
    """Spread between true session values, from differences of sessions of one player; robust against odd ones.

    Parameters
    ----------
    differences : (n,) array
        Differences of two session values [change unit].
    noise : (n,) array
        Sum of their sampling variances.

    Returns
    -------
    float
        tau at which half of ``d**2 / (2 tau**2 + noise)`` lies below the median of chi-square (1); 0 when even tau = 0 is too
        much.

    Notes
    -----
    A quotient falls to that median at a ``tau**2`` of its own, so half of them lie below it at the median of those.

    Source: own rule
    Checked: tests/unit/test_norms.py
    """
    own = (differences * differences / _CHI2_MEDIAN - noise) / 2.0
    return float(np.sqrt(max(np.median(own), 0.0)))


def quarter_starts(first: dt.date, last: dt.date) -> list[dt.date]:
    """First days of the quarters from the one that holds ``first`` to the one that holds ``last``."""
    starts, year, month = [], first.year, 3 * ((first.month - 1) // 3) + 1
    while dt.date(year, month, 1) <= last:
        starts.append(dt.date(year, month, 1))
        year, month = (year + 1, 1) if month == 10 else (year, month + 3)
    return starts


def squad_norms(observed: pl.DataFrame, priors: Sequence[WorthwhilePrior] = (), estimates: Estimates | None = None) -> list[Norm]:
    """Norms of every quantity and group of clubs, for every quarter from the first observation to the last.

    Parameters
    ----------
    observed : polars.DataFrame
        See :func:`pipelines.measures.trend.observations.observations_of`; of one quantity or several.
    priors : sequence of WorthwhilePrior
        What a federation takes for a worthwhile change of driver speed, by month.
    estimates : Estimates, optional
        Those of before.

    Notes
    -----
    A quarter's norms rest on the 365 days before it. With fewer than 5 players or 100 pairs of sessions (third next session of
    the same player and club, within 28 days) the prior values hold. Between shots: pooled own spread of the sessions. Smallest
    worthwhile change: see :func:`pipelines.measures.worthwhile.squad_worthwhile`. Typical error: of a session of 12 shots.

    Source: [Hopkins2004]
    Checked: tests/unit/test_norms.py
    """
    known = estimates or Estimates()
    norms = []
    for (metric, group), rows in sorted(observed.group_by("metric", "club_group", maintain_order=True), key=lambda item: item[0]):
        days = rows["on_date"]
        starts = quarter_starts(days.min(), days.max())  # type: ignore[arg-type] # dates, not empty
        found = by_quarter(known, f"norms {metric}", rows.select(_READ), starts, partial(_of_quarter, str(metric), known))
        norms += [
            _with_federation(Norm(str(metric), str(group), start, *values), priors)
            for start, values in zip(starts, found, strict=True)
        ]
    return norms


_READ = ("player_id", "club", "on_date", "n", "x", "shot_sd")


def _of_quarter(metric: str, known: Estimates, rows: pl.DataFrame, start: dt.date) -> list[Any]:
    """The numbers of a norm, from the year before a quarter."""
    read = rows.filter(pl.col("on_date").is_between(start - dt.timedelta(days=HISTORY_DAYS), start, closed="left"))
    return known.once("norm", read, metric, partial(_norm, metric, read))


def _with_federation(norm: Norm, priors: Sequence[WorthwhilePrior]) -> Norm:
    """A norm of driver speed that rests on prior values takes the worthwhile change of the federation, as known by then."""
    known = [one for one in priors if one.from_on <= norm.from_on]
    if not norm.is_prior or (norm.metric, norm.club_group) != ("club_speed_mps", "driver") or not known:
        return norm
    newest = max(known, key=lambda one: one.month_on)
    low, high = (share * PRIORS[norm.metric].worthwhile for share in RANGE)
    return replace(norm, worthwhile=float(np.clip(newest.worthwhile, low, high)), prior_on=newest.month_on)


def norms_frame(norms: list[Norm]) -> pl.DataFrame:
    """The norms as rows, sorted by metric, group and day."""
    schema = {name: _TYPES.get(name, pl.Float64()) for name in Norm.__dataclass_fields__}
    columns = {name: [getattr(norm, name) for norm in norms] for name in schema}
    return pl.DataFrame(columns, schema=schema).sort("metric", "club_group", "from_on")


_TYPES: dict[str, pl.DataType] = {
    "metric": pl.String(),
    "club_group": pl.String(),
    "from_on": pl.Date(),
    "n_players": pl.Int64(),
    "n_pairs": pl.Int64(),
    "is_prior": pl.Boolean(),
    "prior_on": pl.Date(),
}


def _norm(metric: str, before: pl.DataFrame) -> list[float | int | bool]:
    """The numbers of a norm, in the order of its attributes."""
    prior = PRIORS[metric]
    pairs = _pairs(before)
    n_players = pairs["player_id"].n_unique()
    is_prior = n_players < FEWEST_PLAYERS or pairs.height < FEWEST_PAIRS
    shot, session, worthwhile = prior.shot_sd, prior.session_sd, prior.worthwhile
    if not is_prior:
        shot = _pooled_shot_sd(before) or prior.shot_sd
        noise = (shot * shot * pairs["inverse_n"]).to_numpy()
        session = max(session_sd(pairs["difference"].to_numpy(), noise), 0.3 * prior.session_sd)
        levels = before.group_by("player_id").agg(pl.col("x").median()).sort("player_id")["x"].to_numpy()
        worthwhile = squad_worthwhile(levels, prior.worthwhile)
    error = float(np.sqrt(session**2 + shot**2 / USUAL_SHOTS))
    return [session, shot, error, worthwhile, detectable_change(error), n_players, pairs.height, is_prior]


def _pairs(before: pl.DataFrame) -> pl.DataFrame:
    later = pl.col("x").shift(-PAIR_LAG).over("player_id", "club")
    day = pl.col("on_date").shift(-PAIR_LAG).over("player_id", "club")
    n = pl.col("n").shift(-PAIR_LAG).over("player_id", "club")
    return before.select(
        "player_id",
        (later - pl.col("x")).alias("difference"),
        (day - pl.col("on_date")).dt.total_days().alias("days"),
        (1.0 / pl.col("n") + 1.0 / n).alias("inverse_n"),
    ).filter(pl.col("difference").is_not_null(), pl.col("days") <= PAIR_DAYS)


def _pooled_shot_sd(before: pl.DataFrame) -> float | None:
    own = before.filter(pl.col("shot_sd").is_not_null())
    weight = own["n"].to_numpy() - 1.0
    if weight.sum() <= 0:
        return None
    return float(np.sqrt((weight * own["shot_sd"].to_numpy() ** 2).sum() / weight.sum()))
