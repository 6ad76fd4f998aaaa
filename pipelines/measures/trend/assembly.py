"""From session summaries to everything that trends say: norms by quarter, device offsets, points, shifts, baselines."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import polars as pl
from numpy.typing import NDArray
from scipy.special import ndtr

from pipelines.measures.baseline.norms import Norm, norms_frame, squad_norms
from pipelines.measures.device.ledger import Word
from pipelines.measures.device.monitor import device_watch
from pipelines.measures.device.results import DeviceShift, DeviceWatch
from pipelines.measures.device.window import OffsetInForce, month_offsets
from pipelines.measures.estimates import Estimates
from pipelines.measures.federation.norms import WorthwhilePrior
from pipelines.measures.scatter.usual_shares import with_usual_shares
from pipelines.measures.shift.steady_state import SHARE_IN_SCORES, chart_p_value, steep_p_value
from pipelines.measures.trend.expected import COURSE, EXPECTED, expected_course
from pipelines.measures.trend.follow import SERIES, Followed, followed
from pipelines.measures.trend.observations import natural, observations_of, swings_for, usual_swings, with_noise
from pipelines.measures.trend.points import interval_factor, interval_width
from pipelines.measures.trend.priors import CORRELATION, PRIORS
from pipelines.measures.trend.resemblance import resemblance
from pipelines.measures.trend.stall import STALL_AT, stall_p_value
from schemas.trend_metrics import TREND_METRICS

LEARNING_SESSIONS = 8
MOST_RESEMBLANCE = 0.7
"""More is not taken into account: the table of the charts ends near it."""
WATCHED: tuple[str, ...] = ("club_speed_mps", "ball_speed_mps")
"""Quantities in which a device may shift for all its players at once; offsets between devices are learned for all."""
RATIO = "speed_ratio"
"""Tells which of the two a device reads wrong."""
WILD = "wild_pct"


@dataclass(frozen=True)
class Trends:
    """What the trends of a squad say.

    Attributes
    ----------
    parts : tuple of polars.DataFrame
        Sessions of each quantity with all that the squad tells of them: what follows of a player's rows depends on no other's.
        Six million rows of a large squad are held at once, so texts of which there are few are categories, and columns that are 0
        in all of a quantity are left out; :func:`plain_rows` has them as they are followed.
    norms, offsets : polars.DataFrame
        Rows of ``trend_norm`` and ``device_offset``, with further columns.
    device_shifts : tuple of (str, DeviceShift)
        Quantity and shift.
    """

    parts: tuple[pl.DataFrame, ...]
    norms: pl.DataFrame
    offsets: pl.DataFrame
    device_shifts: tuple[tuple[str, DeviceShift], ...]

    @cached_property
    def _whole(self) -> Followed:
        return followed_rows(plain_rows(pl.concat(self.parts, how="diagonal")))

    @property
    def points(self) -> pl.DataFrame:
        """Rows of ``trend_point``, with further columns."""
        return self._whole.points

    @property
    def shifts(self) -> pl.DataFrame:
        """Rows of ``trend_shift``, with further columns."""
        return self._whole.shifts


Words = Callable[[str, str, dt.date], Word | None]
"""What a person decided of the suspicion of a quantity and a device that was found on a day."""

_PValue = Callable[[NDArray[np.float64], NDArray[np.float64]], NDArray[np.float64]]


def unsaid(metric: str, device_id: str, found_on: dt.date) -> Word | None:  # noqa: ARG001 - the shape of a question
    """Nobody said anything."""
    return None


def trends(
    summaries: pl.DataFrame,
    born: dict[str, int] | None = None,
    words: Words = unsaid,
    priors: Sequence[WorthwhilePrior] = (),
    estimates: Estimates | None = None,
) -> Trends:
    """Trends of all quantities of all players.

    Parameters
    ----------
    summaries : polars.DataFrame
        Rows of ``session_club``.
    born : dict, optional
        Year of birth by player, where known: growth is expected of juniors.
    words : callable, optional
        Decisions about flags of suspected devices.
    priors : sequence of WorthwhilePrior
        Of the federation, for a squad with too few data of its own.
    estimates : Estimates, optional
        Those of before; what is asked for is noted in them.

    Returns
    -------
    Trends

    Notes
    -----
    A session's point rests on what had been struck by its day: norms are those of its quarter, from the year before; offsets
    those of its day.

    Source: own rule
    Checked: tests/property/test_trend_replay.py (a prefix of the data gives the same points)
    """
    known, swings = estimates or Estimates(), usual_swings(summaries)
    del summaries  # those of a large squad are held once
    judged = {metric: _judged(swings, metric, priors, known) for metric in (*WATCHED, RATIO)}
    norms = {metric: usual for metric, (_, usual) in judged.items()}
    waiting = {metric: rows.sort(_BY_DAY) if metric in WATCHED else rows for metric, (rows, _) in judged.items()}
    del judged
    watches = {metric: _watch(waiting[metric], waiting[RATIO], metric, words, known) for metric in WATCHED}
    own = _own_series(waiting, watches)
    parts, in_force = list[tuple[pl.DataFrame, pl.DataFrame]](), dict[str, list[OffsetInForce]]()
    for number, metric in enumerate(TREND_METRICS):  # one at a time: of the others only what is told in the end is held
        swings = swings_for(swings, list(TREND_METRICS)[number:])
        if metric not in norms:
            waiting[metric], norms[metric] = _judged(swings, metric, priors, known)
        if metric in WATCHED:
            waiting[metric], in_force[metric] = _corrected(waiting.pop(metric), watches[metric]), watches[metric].in_force
        else:
            waiting[metric], in_force[metric] = _corrected_by_month(waiting.pop(metric), own, metric, known)
        if metric == WILD:
            waiting[metric] = with_usual_shares(waiting.pop(metric), known)
        parts.append(_resembling(_expecting(waiting.pop(metric), metric, born or {}, known), known))
    correlations = pl.concat([by_quarter for _, by_quarter in parts])
    told = norms_frame([norm for metric in TREND_METRICS for norm in norms[metric]])
    quarters = told.join(correlations, on=["metric", "club_group", "from_on"], how="left", maintain_order="left")
    quarters = quarters.with_columns(pl.col("correlation").fill_null(CORRELATION))
    device_shifts = tuple((metric, shift) for metric, watch in watches.items() for shift in watch.shifts)
    return Trends(tuple(told for told, _ in parts), quarters, _offsets(in_force), device_shifts)


def _judged(
    swings: pl.DataFrame, metric: str, priors: Sequence[WorthwhilePrior], estimates: Estimates
) -> tuple[pl.DataFrame, list[Norm]]:
    """Sessions of a quantity with noise and variance as the squad's norms of the quarter have them; and these."""
    observed = observations_of(swings, metric).with_row_index(_PLACE)
    norms = squad_norms(observed, priors, estimates)
    usual = norms_frame(norms).select(
        "club_group", "from_on", "session_sd", "worthwhile", pl.col("shot_sd").alias("squad_shot_sd")
    )
    joined = observed.sort("on_date", maintain_order=True).join_asof(
        usual.sort("from_on"), left_on="on_date", right_on="from_on", by="club_group", check_sortedness=False
    )
    judged = with_noise(joined).with_columns((pl.col("noise") + pl.col("session_sd") ** 2).alias("variance"))
    return judged.drop("shot_sd", "squad_shot_sd", "session_sd"), norms


def _watch(rows: pl.DataFrame, ratios: pl.DataFrame, metric: str, words: Words, estimates: Estimates) -> DeviceWatch:
    """What the watch finds in sessions by day."""

    def said(device_id: str, found_on: dt.date) -> Word | None:
        return words(metric, device_id, found_on)

    turned = -1.0 if metric == "club_speed_mps" else 1.0  # a club speed read too high makes the ratio smaller
    of_ratio = ratios.with_columns((turned * pl.col("x")).alias("x")).sort(_BY_DAY)
    return device_watch(rows, PRIORS[metric].worthwhile, said, of_ratio, estimates)


_BY_DAY = ("on_date", "session_id", "player_id", "club_group")
_PLACE = "place"
"""Column of the order in which sessions were told, by player and day: texts that are nearly sorted are sorted soon."""


def _own_series(rows: dict[str, pl.DataFrame], watches: dict[str, DeviceWatch]) -> pl.DataFrame:
    """Sessions whose device is followed on its own, in every quantity: as club speed has it, else ball speed."""
    parts = [
        rows[metric].select(*_OF_SESSION, "metric", pl.Series("series", watch.series, dtype=pl.String))
        for metric, watch in watches.items()
    ]
    alone = [part.filter(pl.col("series") != "").select(_OF_SESSION).unique() for part in parts]
    told = (part.join(pl.concat(alone), on=_OF_SESSION, how="semi") for part in parts)
    series = pl.concat(told).group_by(_OF_SESSION).agg(pl.col("series").sort_by("metric", descending=True).first())
    return series.filter(pl.col("series") != "")


_OF_SESSION = ("player_id", "club_group", "session_id")


def _corrected(rows: pl.DataFrame, watch: DeviceWatch) -> pl.DataFrame:
    """Values after the offsets of their devices, and the series that each belongs to."""
    told = rows.with_columns(
        pl.Series("offset", watch.offsets),
        pl.Series("series", watch.series, dtype=pl.String),
        *((pl.col(name) + pl.Series(watch.doubt)).alias(name) for name in ("noise", "variance")),
    )
    return told.with_columns((pl.col("x") - pl.col("offset")).alias("x"))


def _corrected_by_month(
    judged: pl.DataFrame, own: pl.DataFrame, metric: str, estimates: Estimates
) -> tuple[pl.DataFrame, list[OffsetInForce]]:
    """The same of a quantity in which nobody watches for shifts."""
    rows = judged.join(own, on=_OF_SESSION, how="left", maintain_order="left").with_columns(pl.col("series").fill_null(""))
    del judged
    offsets, in_force = month_offsets(rows, PRIORS[metric].worthwhile, estimates)
    told = rows.with_columns(pl.Series("offset", offsets, dtype=pl.Float64))
    return told.with_columns((pl.col("x") - pl.col("offset")).alias("x")), in_force


def _expecting(rows: pl.DataFrame, metric: str, born: dict[str, int], estimates: Estimates) -> pl.DataFrame:
    """With the course that is expected of each player."""
    if metric not in EXPECTED or rows.is_empty():
        return rows.with_columns(expected=0.0)
    return pl.concat([rows, expected_course(rows, born, PRIORS[metric].worthwhile, estimates)], how="horizontal")


def _resembling(expecting: pl.DataFrame, estimates: Estimates) -> tuple[pl.DataFrame, pl.DataFrame]:
    """With how much each player's form resembles that of the session before; and the squad's by quarter."""
    rows = expecting.sort(_PLACE).drop(_PLACE).sort(*SERIES, "on_date", "session_id")
    del expecting
    told, quarters = resemblance(rows, SERIES, estimates)
    told = told if set(COURSE) <= set(told.columns) else told.drop("expected")
    texts = pl.selectors.by_name(*_FEW_TEXTS, "usual_shares", require_all=False)
    few = texts.cast(pl.Categorical), pl.col("n").cast(pl.Int32)
    return told.select(*_TOLD, pl.selectors.exclude(*_TOLD)).with_columns(few), quarters


_TOLD = ("metric", *SERIES, "on_date", "session_id")
_FEW_TEXTS = ("metric", "club_group", "club", "series", "device_id")


def plain_rows(rows: pl.DataFrame) -> pl.DataFrame:
    """Rows of the parts of :class:`Trends`, with texts in place of categories: those sort and join as others do."""
    left_out = [pl.lit(None, dtype=pl.Float64).alias(name) for name in COURSE if name not in rows.columns]
    plain = rows.with_columns(pl.col(pl.Categorical).cast(pl.String), pl.col("n").cast(pl.Int64), *left_out)
    return plain.with_columns(pl.col(COURSE).fill_null(0.0))


def followed_rows(rows: pl.DataFrame, found: pl.DataFrame | None = None, states: pl.DataFrame | None = None) -> Followed:
    """Points and confirmed shifts of sessions; those of one player are the same whoever's stand beside them.

    Parameters
    ----------
    rows : polars.DataFrame
        From :func:`plain_rows`, of some players or all; with a column ``asked`` where not every point is asked for.
    found : polars.DataFrame, optional
        Shifts that are known to have been found before the first session that is asked for.
    states : polars.DataFrame, optional
        What stands of months before those that are asked for.

    Returns
    -------
    Followed
        With the further columns of :class:`Trends`.

    Notes
    -----
    Source: own rule. Checked: tests/property/test_trend_replay.py
    """
    if "asked" not in rows.columns:
        rows = rows.with_columns(asked=pl.lit(value=True))
    if not rows["asked"].any():
        return _nothing_followed(rows.clear())
    scales = {metric: PRIORS[metric].worthwhile for metric in TREND_METRICS}
    scale = pl.col("metric").replace_strict(scales, return_dtype=pl.Float64)
    result = followed(rows.with_columns(scale.alias("scale")), found, states)
    return replace(result, points=_with_chances(result.points.drop("scale")))


def _nothing_followed(rows: pl.DataFrame) -> Followed:
    """Frames without a row, with the columns that they have when a session is followed: those of a made-up one, emptied."""
    one = rows.clear(1).with_columns(
        pl.col(pl.String).fill_null(""),
        pl.col(pl.Date).fill_null(dt.date(2000, 1, 1)),
        pl.selectors.numeric().fill_null(0.5),
        asked=pl.lit(value=True),
    )
    result = followed(one.with_columns(scale=pl.lit(1.0)))
    points = _with_chances(result.points.drop("scale"))
    return Followed(points.clear(), result.shifts.clear(), result.states.clear())


def _with_chances(points: pl.DataFrame) -> pl.DataFrame:
    correlation = points["correlation"].to_numpy()
    width = pl.Series(interval_width(correlation))
    return (
        _of_interval(
            points.with_columns((pl.col(name) * width).alias(name) for name in ("level_half", "level_error", "change_half"))
        )
        .with_columns(
            *(
                _over_resemblance(points, f"{sums}_{side}", p_value).alias(f"p_{sums}_{side}")
                for sums, p_value in (("chart", chart_p_value), ("steep", steep_p_value))
                for side in ("up", "down")
            ),
            pl.Series("p_stall", stall_p_value(points["stall_score"].to_numpy(), correlation), dtype=pl.Float64),
        )
        .with_columns(_state().alias("state"))
    )


def _over_resemblance(points: pl.DataFrame, sums: str, p_value: _PValue) -> pl.Series:
    """Mean chance of a chart over what is not known of how much form resembles the session before: one error on both sides.

    A chance grows faster than the resemblance does: the one at the middle would be too small.
    """
    middle, error = points["correlation"].to_numpy(), points["correlation_error"].to_numpy()
    low, high = (
        p_value(points[sums].to_numpy(), SHARE_IN_SCORES * np.clip(one, 0.0, MOST_RESEMBLANCE))
        for one in (middle - error, middle + error)
    )
    return pl.Series((low + high) / 2.0, dtype=pl.Float64)


def _of_interval(points: pl.DataFrame) -> pl.DataFrame:
    """Probabilities of the normal distribution whose 90 % interval is the one that is shown: the two cannot disagree."""
    change, sd = points["change_28"].to_numpy(), (points["change_half"] / interval_factor()).to_numpy()
    limit = points["worthwhile"].to_numpy()

    def above(at: NDArray[np.float64]) -> pl.Series:
        return pl.Series(ndtr((change - at) / sd), dtype=pl.Float64).fill_nan(None)

    return points.with_columns(
        above(np.zeros_like(limit)).alias("p_up"),
        above(limit).alias("p_above"),
        (1.0 - above(-limit)).alias("p_below"),
    )


def _state() -> pl.Expr:
    return (
        pl.when(pl.col("usual_n") < LEARNING_SESSIONS)
        .then(pl.lit("learning"))
        .when(pl.col("p_stall") <= STALL_AT)
        .then(pl.lit("stalled"))
        .when(pl.col("p_up") > 0.95)
        .then(pl.lit("rising"))
        .when(pl.col("p_up") < 0.05)
        .then(pl.lit("falling"))
        .otherwise(pl.lit("steady"))
    )


def _offsets(in_force: dict[str, list[OffsetInForce]]) -> pl.DataFrame:
    rows = [
        {"metric": metric, **{name: getattr(one, name) for name in one.__dataclass_fields__}}
        for metric, offsets in in_force.items()
        for one in offsets
    ]
    schema = {
        "metric": pl.String, "device_id": pl.String, "from_on": pl.Date, "offset": pl.Float64, "error": pl.Float64,
        "n_players": pl.Int64, "n_bridges": pl.Int64, "basis": pl.String,
    }  # fmt: skip
    # On one day a shift and a new month may both set an offset: the last holds.
    kept = pl.DataFrame(rows, schema=schema).unique(["device_id", "metric", "from_on"], keep="last", maintain_order=True)
    return kept.sort("device_id", "metric", "from_on")


def in_natural_units(points: pl.DataFrame) -> pl.DataFrame:
    """The points as rows of ``trend_point``: levels in the unit of the metric, changes in the change unit."""
    metric = pl.col("metric")
    return points.select(
        "player_id", "club_group", "club", "metric", "series", "session_id", "on_date", "device_id", "n",
        natural(pl.col("x"), metric).alias("value"),
        "offset",
        natural(pl.col("level"), metric).alias("level"),
        natural(pl.col("level") - pl.col("level_half"), metric).alias("level_low"),
        natural(pl.col("level") + pl.col("level_half"), metric).alias("level_high"),
        "change_28",
        (pl.col("change_28") - pl.col("change_half")).alias("change_28_low"),
        (pl.col("change_28") + pl.col("change_half")).alias("change_28_high"),
        "p_up",
        pl.col("p_above").alias("p_better"),
        (1.0 - pl.col("p_above") - pl.col("p_below")).alias("p_trivial"),
        pl.col("p_below").alias("p_worse"),
        "worthwhile", "odd",
        natural(pl.col("usual"), metric).alias("usual"),
        "usual_sd", "usual_n", "chart_up", "chart_down", "p_chart_up", "p_chart_down", "state", "p_stall",
    )  # fmt: skip
