"""Pattern of a player's shots with one club, month by month."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.carry import OTHER_MODELS
from pipelines.measures.grouping import by_group, divided
from pipelines.measures.scatter.ellipse import ellipse, next_shot_multiplier
from pipelines.measures.scatter.mishit import Rate, is_short_shot, mishit_rate
from pipelines.measures.scatter.pattern import FEWEST_SHOTS, ShotPattern, shot_patterns
from pipelines.measures.scatter.tails import FEWEST_SESSIONS, TailSpread, tail_spread, with_sessions

if TYPE_CHECKING:
    from collections.abc import Iterator

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

ELLIPSE_SHARE = 0.80
NORMAL_SCALE = 0.728
"""Scale of the t fit (4 degrees of freedom) over the variance when shots are normal: by it an ellipse of the fit is one of
normal shots, which the multipliers for small numbers suppose."""
TAILS_ON_QUARTILES = 1.658
"""Variance of the t core (4 degrees of freedom) over that of a normal with the same quartiles: ``2 (.67449/.74070)²``."""
FEWEST_FOR_PRIOR, FEWEST_MONTHS = 15, 3
"""Shots of a month, and months of all players, that tell what is usual."""

_OTHER_CARRIES = tuple(f"carry_{name}_m" for name in OTHER_MODELS)

PATTERN_READS: tuple[str, ...] = (
    *("session_id", "player_id", "on_date", "club", "club_group", "method", "carry_m", "offline_m", "direction_deg", "run_m"),
    *("club_speed_mps", "speed_ratio", "launch_deg", "spin_rpm", *_OTHER_CARRIES),
)


_LISTED = ("carry_m", "direction_deg", "offline_m")
_PLAIN = (
    *("player_id", "club_group", "month_on", "club", "n_shots", "n_sessions", "anchored_share", "club_speed_mps"),
    *("club_speed_error_mps", "speed_ratio", "launch_deg", "spin_rpm"),
)


def patterns_by_month(shots: pl.DataFrame, schema: dict[str, pl.DataType], usual: pl.DataFrame | None = None) -> pl.DataFrame:
    """Patterns of every player, group of clubs and month, of the club most struck in it.

    Parameters
    ----------
    shots : polars.DataFrame
        Columns :data:`PATTERN_READS`, counting shots of the player's normal swing; null where there is none.
    schema : dict
        Columns and types of the result, in order.
    usual : polars.DataFrame, optional
        From :func:`usual_spreads`, where the shots are not those of the whole squad.

    Returns
    -------
    polars.DataFrame
        One row per player, club group and month with a shot. Without 8 shots that have carry and direction, the pattern is
        null and the reason is ``too_few_shots`` or ``no_offline``.

    Notes
    -----
    Core: its middle and correlation by a bivariate t, its spreads with what tails the shots show (:func:`tail_spread`), both
    with the spread that is usual in the squad (:func:`usual_spreads`) as prior; mishits are set apart and counted. Errors hold
    what sessions differ by.
    Source: [LangeLittleTaylor1989], [Ko2012], [Jeffreys]. Checked: tests/unit/test_month_patterns.py.
    """
    if shots.is_empty():
        return pl.DataFrame(schema=schema)
    months = _most_struck(shots.with_columns(pl.col("on_date").dt.truncate("1mo").alias("month_on")))
    known = usual_spreads(quartiles_by_month(shots)) if usual is None else usual
    columns = known.select("club_group", "month_on", "share", "deg").unique().iter_rows()
    priors = {(group, month): np.array([share, deg]) ** 2 for group, month, share, deg in columns if share is not None}
    return pl.DataFrame(list(_rows(months, priors)), schema=schema).sort("player_id", "club_group", "month_on")


def _most_struck(shots: pl.DataFrame) -> pl.DataFrame:
    keys = ["player_id", "club_group", "month_on"]
    counted = shots.group_by(*keys, "club").agg(pl.len().alias("n")).sort("n", "club", descending=[True, False])
    most = counted.unique(keys, keep="first", maintain_order=True).select(*keys, "club")
    # the order of shots decides the last digit of a mean: it is kept from here on
    return shots.join(most, on=[*keys, "club"], how="semi", maintain_order="left").sort(
        *keys, "on_date", "session_id", maintain_order=True
    )


def _spread(column: str) -> pl.Expr:
    # quartiles know nothing of wild shots
    value = pl.col(column)
    return divided(value.quantile(0.75, "linear") - value.quantile(0.25, "linear"), 1.349)


def quartiles_by_month(shots: pl.DataFrame) -> pl.DataFrame:
    """How wide each player's shots of a month lie, of the club most struck in it; what is said of one does not depend on others.

    Parameters
    ----------
    shots : polars.DataFrame
        Columns :data:`PATTERN_READS`.

    Returns
    -------
    polars.DataFrame
        player_id, club_group, month_on, share (standard deviation of carry over its median, from the quartiles), deg (of
        direction [°], likewise), n_shots with both; a row for every player, group and month with a shot.

    Notes
    -----
    Source: own rule. Checked: tests/unit/test_month_patterns.py.
    """
    months = _most_struck(shots.with_columns(pl.col("on_date").dt.truncate("1mo").alias("month_on")))
    whole = pl.col("direction_deg").is_not_null() & pl.col("carry_m").is_not_null()
    carry, direction = (pl.when(whole).then(name).alias(name) for name in ("carry_m", "direction_deg"))
    return (
        months.with_columns(carry, direction)
        .group_by("player_id", "club_group", "month_on", maintain_order=True)
        .agg(
            (_spread("carry_m") / pl.col("carry_m").median()).alias("share"),
            _spread("direction_deg").alias("deg"),
            pl.col("carry_m").count().cast(pl.Int64).alias("n_shots"),
        )
        .sort("player_id", "club_group", "month_on")
    )


def usual_spreads(quartiles: pl.DataFrame) -> pl.DataFrame:
    """What is usual in the squad by group of clubs, as known when each month began; where too little was, what is known in it.

    Parameters
    ----------
    quartiles : polars.DataFrame
        From :func:`quartiles_by_month`, of the whole squad.

    Returns
    -------
    polars.DataFrame
        player_id, club_group, month_on of the rows given, with the medians of share and deg over all players and months with 15
        shots or more; null before there are three of them.

    Notes
    -----
    Source: own rule. Checked: tests/unit/test_month_patterns.py.
    """
    known = quartiles.filter(pl.col("n_shots") >= FEWEST_FOR_PRIOR)
    parts = []
    for (group,), rows in quartiles.partition_by("club_group", as_dict=True, maintain_order=True).items():
        of_group = known.filter(pl.col("club_group") == group)
        for month in rows["month_on"].unique().sort():
            before, so_far = (of_group.filter(until) for until in (pl.col("month_on") < month, pl.col("month_on") <= month))
            told = before if before.height >= FEWEST_MONTHS else so_far
            usual = told.select(pl.col("share", "deg").median()).row(0) if told.height >= FEWEST_MONTHS else (None, None)
            parts.append((str(group), month, *usual))
    schema = {"club_group": pl.String, "month_on": pl.Date, "share": pl.Float64, "deg": pl.Float64}
    table = pl.DataFrame(parts, schema=schema, orient="row")
    return quartiles.select("player_id", "club_group", "month_on").join(
        table, on=["club_group", "month_on"], how="left", maintain_order="left"
    )


def _summary(months: pl.DataFrame) -> pl.DataFrame:
    """Everything of a month that needs no fit, and its shots as lists."""
    keys = ["player_id", "club_group", "month_on"]
    sessions = (
        by_group(months, [*keys, "session_id"])
        .agg(pl.col("club_speed_mps").mean().alias("session_speed"), pl.col("carry_m").median().alias("session_carry"))
        .group_by(keys, maintain_order=True)
        .agg(
            pl.len().cast(pl.Int64).alias("n_sessions"),
            (pl.col("session_speed").std() / pl.col("session_speed").count().sqrt()).alias("between"),
            pl.col("session_speed").count().alias("n_speeds"),
            pl.when(pl.col("session_carry").count() >= FEWEST_SESSIONS)
            .then(pl.col("session_carry").std() / pl.col("session_carry").count().sqrt())
            .alias("carry_between"),
        )
    )
    shots = by_group(months, keys).agg(
        pl.col("club").first(),
        (pl.col("carry_m").is_not_null() & pl.col("direction_deg").is_not_null()).sum().cast(pl.Int64).alias("n_shots"),
        (pl.col("method") == "anchored").mean().alias("anchored_share"),
        pl.col("club_speed_mps").mean(),
        (pl.col("club_speed_mps").std() / pl.col("club_speed_mps").count().sqrt()).alias("within"),
        pl.col("speed_ratio", "launch_deg", "spin_rpm", "run_m").median(),
        *((pl.col(name) / pl.col("carry_m")).mean().alias(f"share_{name}") for name in _OTHER_CARRIES),
        *(pl.col(name).cast(pl.Float64).fill_null(float("nan")).alias(f"shot_{name}") for name in _LISTED),
        pl.col("session_id").rle_id().alias("shot_session"),
    )
    # between sessions where there are three or more, else within the shots of the few
    error = pl.when(pl.col("n_speeds") >= FEWEST_SESSIONS).then(pl.col("between")).otherwise(pl.col("within"))
    return shots.join(sessions, on=keys).with_columns(error.alias("club_speed_error_mps")).sort(keys)


def _rows(months: pl.DataFrame, priors: dict[tuple[str, date], Floats]) -> Iterator[dict[str, Any]]:
    rows = list(_summary(months).iter_rows(named=True))
    struck = [_struck(row, priors.get((row["club_group"], row["month_on"]))) for row in rows]
    whole = [one for one in struck if one.core.sum() >= FEWEST_SHOTS]
    fits = shot_patterns([one.of_core(one.carry, one.direction) for one in whole], [one.usual for one in whole], tolerance=1e-5)
    plans = shot_patterns([one.of_core(one.offline, one.carry) for one in whole], [None] * len(whole), tolerance=1e-5)
    fitted = iter(zip(fits, plans, strict=True))
    for row, one in zip(rows, struck, strict=True):
        fit, plan = next(fitted) if one.core.sum() >= FEWEST_SHOTS else (None, None)
        found = _fitted(one, row["run_m"], fit, plan)
        plain = {name: row[name] for name in _PLAIN}
        yield plain | _with_days(found, row["carry_between"]) | _by_models(found.get("carry_m"), row)


@dataclass(frozen=True)
class _Struck:
    """Shots of a month with a club; which are in the core; what is usual in the squad: standard deviations, covariance."""

    carry: Floats
    direction: Floats
    offline: Floats
    session: Integers
    short: NDArray[np.bool_]
    core: NDArray[np.bool_]
    usual_sd: tuple[float | None, float | None]
    usual: Floats | None

    def of_core(self, first: Floats, second: Floats) -> Floats:
        return np.column_stack([first, second])[self.core]


def _struck(row: dict[str, Any], prior: Floats | None) -> _Struck:
    carry, direction, offline = (np.array(row[f"shot_{name}"]) for name in _LISTED)
    short, session = is_short_shot(carry), np.array(row["shot_session"])
    core = np.isfinite(carry) & np.isfinite(direction) & ~short
    if prior is None or not core.any():
        return _Struck(carry, direction, offline, session, short, core, (None, None), None)
    middle = float(np.median(carry[core]))
    usual_sd = (float(np.sqrt(prior[0])) * middle, float(np.sqrt(prior[1])))
    covariance = np.diag([prior[0] * middle**2, prior[1]]) * TAILS_ON_QUARTILES
    return _Struck(carry, direction, offline, session, short, core, usual_sd, covariance)


def _fitted(struck: _Struck, run: float | None, fit: ShotPattern | None, plan: ShotPattern | None) -> dict[str, Any]:
    short, core = struck.short, struck.core
    found: dict[str, Any] = {"n_mishits": int(short.sum()), "reason": ""}
    n_known = int(np.isfinite(struck.carry).sum())
    if core.sum() < FEWEST_SHOTS:
        return found | {"reason": "no_offline" if n_known >= FEWEST_SHOTS else "too_few_shots"}
    rate = mishit_rate(int(short.sum()), n_known)
    if fit is None or rate is None:
        return found | {"reason": "no_spread"}
    spreads = [
        tail_spread(
            values[core],
            float(fit.middle[place]),
            float(np.sqrt(fit.scale[place, place])),
            struck.usual_sd[place],
            fit.prior_shots,
        )
        for place, values in enumerate((struck.carry, struck.direction))
    ]
    spreads[1] = with_sessions(spreads[1], struck.direction[core], float(fit.middle[1]), struck.session[core])
    return found | _core(fit, run, *spreads) | _rate(rate) | _plan(struck.offline[core], plan)


def _by_models(carry: float | None, row: dict[str, Any]) -> dict[str, float | None]:
    """The middle carry by other sets of coefficients of drag and lift, and its standard deviation over all of them."""
    shares = [row[f"share_{name}"] for name in _OTHER_CARRIES]
    if carry is None or None in shares:
        return dict.fromkeys((*_OTHER_CARRIES, "carry_model_error_m"))
    others = {name: share * carry for name, share in zip(_OTHER_CARRIES, shares, strict=True)}
    return others | {"carry_model_error_m": float(np.std([carry, *others.values()], ddof=1))}


def _with_days(fitted: dict[str, Any], between: float | None) -> dict[str, Any]:
    """The error of the middle carry as the larger of that between shots and that between sessions: days differ."""
    if between is None or fitted.get("carry_error_m") is None:
        return fitted
    return fitted | {"carry_error_m": max(fitted["carry_error_m"], between)}


def _core(fit: ShotPattern, run: float | None, long_short: TailSpread, across: TailSpread) -> dict[str, float | None]:
    error = fit.middle_error
    return {
        "carry_m": float(fit.middle[0]),
        "carry_error_m": float(error[0]),
        "run_m": run,
        "total_m": None if run is None else float(fit.middle[0]) + run,
        "direction_deg": float(fit.middle[1]),
        "direction_error_deg": float(error[1]),
        "carry_sd_m": long_short.sd,
        "direction_sd_deg": across.sd,
        "log_sd_error": across.log_error,
        "tail_share": across.tail_share,
        "tail_share_error": across.tail_share_error,
        "tail_correlation": across.correlation,
        "correlation": fit.correlation,
    }


def _rate(rate: Rate) -> dict[str, float | None]:
    return {
        "mishit_rate": rate.rate,
        "mishit_low": rate.low,
        "mishit_high": rate.high,
        "mishit_error": rate.standard_error,
    }


def _plan(offline: Floats, fit: ShotPattern | None) -> dict[str, float | None]:
    if fit is None:
        return {}
    ring = ellipse(fit.scale / NORMAL_SCALE, next_shot_multiplier(fit.n, ELLIPSE_SHARE))
    return {
        "offline_m": float(fit.middle[0]),
        "offline_sd_m": tail_spread(offline, float(fit.middle[0]), float(np.sqrt(fit.scale[0, 0]))).sd,
        "ellipse_long_m": ring.long_half,
        "ellipse_short_m": ring.short_half,
        "ellipse_tilt_deg": ring.tilt_deg,
    }
