"""Everything that is said of each quantity after every session: own normal, charts, trend, and confirmed shifts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import polars as pl
from numpy.typing import NDArray

from pipelines.measures.shift.run import ENDINGS, ChartRun, Shift
from pipelines.measures.trend.kept import STATES, closed_sessions, numbered, standing, states_frame
from pipelines.measures.trend.points import TrendPoints, interval_factor
from pipelines.measures.trend.runs import with_jumps
from pipelines.measures.trend.season import YEAR_DAYS, of_season
from pipelines.measures.trend.season_charts import SEASON, charted, season_blocks, stalls
from pipelines.measures.trend.series import SeriesBatch, packed

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

SERIES: tuple[str, ...] = ("player_id", "club_group", "club", "series")
"""Columns that name a series of one quantity."""

_OF_METRIC = ("metric", *SERIES)

_CUT_AT = 2.5


@dataclass(frozen=True)
class Followed:
    """Quantities, followed.

    Attributes
    ----------
    points : polars.DataFrame
        Rows given, with level, change, chart and own normal in the change unit.
    shifts : polars.DataFrame
        Confirmed shifts: metric, the columns of a series, found_on, began_on, upward.
    states : polars.DataFrame
        What stands of closed months from now on (:mod:`.kept`), of series of which something else stood, or nothing.
    """

    points: pl.DataFrame
    shifts: pl.DataFrame
    states: pl.DataFrame


def followed(rows: pl.DataFrame, found: pl.DataFrame | None = None, states: pl.DataFrame | None = None) -> Followed:
    """Charts and trend of all series, side by side: their steps take as long for many as for one.

    Parameters
    ----------
    rows : polars.DataFrame
        One row per session and series, in any order: metric, the columns of a series, session_id, on_date, x (after the device's
        offset), noise (sampling variance), variance (noise and form), expected and grown (course), season_sine, season_cosine (as
        known in the quarter), growth (a year), worthwhile; all in the change unit; from_on (first day of the quarter); scale: of
        the trend's grid, the prior smallest worthwhile change of the metric [change unit]; asked: whether its point is asked for.
        No nulls.
    found : polars.DataFrame, optional
        Shifts that are known to have been found before the first session that is asked for, as they are returned.
    states : polars.DataFrame, optional
        What stands of months before those that are asked for, as it is returned.

    Returns
    -------
    Followed
        Points ordered by metric, series, day and session: of every series with a session that is asked for, all from the one
        before the first of these on. Shifts of these series.

    Notes
    -----
    A point rests on sessions up to its own. Where the chart has confirmed a shift, the trend is filtered anew with a free jump at
    the session at which the shift was dated; points before the confirmation stay as they were.

    Source: [DurbinKoopman2012], [Hawkins1987]
    Checked: tests/unit/test_follow.py, tests/benchmarks
    """
    ordered = rows.sort(*_OF_METRIC, "on_date", "session_id").filter(pl.col("asked").any().over(_OF_METRIC))
    asked, ordered = ordered["asked"].to_numpy(), ordered.drop("asked")
    series = ordered.select(pl.struct(*_OF_METRIC).rle_id().alias("s"))["s"].to_numpy().astype(np.int64)
    scale = ordered["scale"].to_numpy()
    days = ordered["on_date"].cast(pl.Int32).to_numpy().astype(np.float64)
    values, noise = ordered["x"].to_numpy() / scale, ordered["noise"].to_numpy() / scale**2
    n_series = int(series[-1]) + 1 if series.size else 0
    if n_series == 0:
        return Followed(ordered, _shift_frame(ordered, (), series), pl.DataFrame(schema=STATES))
    batch = packed(series, n_series, days, values, noise, np.zeros_like(days))
    variance = packed(series, n_series, days, ordered["variance"].to_numpy() / scale**2, noise, noise).values
    worthwhile = packed(series, n_series, days, ordered["worthwhile"].to_numpy() / scale, noise, noise).values
    step = np.arange(series.size) - np.searchsorted(series, series)
    first = _first_told(series[asked], step[asked], n_series)
    known = None if found is None else _known_shifts(ordered, found, series, step, first)
    charts = _charts(ordered, batch, np.where(variance > 0, variance, 1.0), series, scale, known)
    stood = numbered(ordered, series, states)
    closing = closed_sessions(ordered, series, stood)
    trend, levels, now = with_jumps(batch, worthwhile, first, charts.shifts, standing(stood, batch), closing.n)
    told = step >= first[series]
    scores = _stalls(ordered, levels[step, series], series, scale, first)[:, told]
    points = _points(ordered.filter(told), charts, trend, scale[told], scores)
    return Followed(points, _shift_frame(ordered, charts.shifts, series), states_frame(ordered, series, closing, now))


def _first_told(series: Integers, step: Integers, n_series: int) -> Integers:
    """The session before the first that is asked for, of each series: what a rule says may rest on what held there."""
    first = np.full(n_series, np.iinfo(np.int64).max)
    np.minimum.at(first, series, step)
    return np.asarray(np.maximum(first - 1, 0))


def _known_shifts(
    ordered: pl.DataFrame, found: pl.DataFrame, series: Integers, step: Integers, first: Integers
) -> tuple[Integers, list[Shift]]:
    """The session of each series from which on its chart must be drawn, and the shifts that are known of before.

    A shift is told by its days, without its club: where a group of clubs has two sessions on one day, or none of one series on
    such a day, series are drawn whole.
    """
    own = ["metric", "player_id", "club_group", "series"]
    sessions = ordered.select(*own, "on_date", pl.Series("number", series), pl.Series("step", step))
    twice = sessions.select(*own, "on_date").is_duplicated()
    at = sessions.filter(~twice)
    told = found.join(at, left_on=[*own, "found_on"], right_on=[*own, "on_date"], how="left", maintain_order="left").join(
        at.select(*own, "on_date", "number", began="step"),
        left_on=[*own, "began_on", "number"],
        right_on=[*own, "on_date", "number"],
        how="left",
        maintain_order="left",
    )
    is_lost = pl.col("began").is_null()
    lost = sessions.join(told.filter(is_lost).select(own), on=own, how="semi")["number"]
    begin = first.copy()
    begin[sessions["number"].filter(twice).to_numpy()] = 0
    begin[lost.to_numpy()] = 0
    rows = told.filter(~is_lost).select("number", "step", "began", "upward").rows()
    return begin, [Shift(*row) for row in rows if row[1] < begin[row[0]]]


def _charts(
    ordered: pl.DataFrame,
    batch: SeriesBatch,
    variance: Floats,
    series: Integers,
    scale: Floats,
    known: tuple[Integers, list[Shift]] | None,
) -> ChartRun:
    step = np.arange(series.size) - np.searchsorted(series, series)

    def side_by_side(rows: NDArray[Any]) -> NDArray[Any]:
        array = np.zeros(batch.days.shape, dtype=rows.dtype)
        array[step, series] = rows
        return array

    season = _season(ordered, scale)
    then = ordered["expected"].to_numpy() / scale - of_season(season, batch.days[step, series])
    grown = side_by_side(then), side_by_side(ordered["grown"].to_numpy() / scale)
    waves = side_by_side(season[0]), side_by_side(season[1])
    return charted(batch, variance, grown, waves, side_by_side(season_blocks(ordered)), *(known or ()))


def _season(ordered: pl.DataFrame, scale: Floats) -> tuple[Floats, Floats]:
    sine, cosine = (ordered[name].to_numpy() / scale for name in SEASON)
    return sine, cosine


def _points(ordered: pl.DataFrame, charts: ChartRun, trend: TrendPoints, scale: Floats, stalled: Floats) -> pl.DataFrame:
    at = trend.steps, trend.series
    z = interval_factor()
    usual_n = charts.normal_n[at]
    columns = {
        "level": trend.level * scale,
        "level_half": trend.level_sd * scale * z,
        "level_error": trend.level_error * scale,
        "change_28": np.where(trend.change_known, trend.change * scale, np.nan),
        "change_half": np.where(trend.change_known, trend.change_sd * scale * z, np.nan),
        **{name: np.where(trend.change_known, getattr(trend, name), np.nan) for name in ("p_up", "p_above", "p_below")},
        "odd": trend.odd,
        "surprise": _surprise(ordered["x"].to_numpy() / scale, trend),
        "usual": np.where(usual_n > 0, charts.normal[at] * scale, np.nan),
        "usual_sd": np.where(usual_n > 0, charts.normal_sd[at] * scale, np.nan),
        "score": charts.scores[at],
        "stall_score": stalled[0],
        "stall_slope": stalled[1],
        "chart_up": charts.up[at],
        "chart_down": charts.down[at],
        "steep_up": charts.steep_up[at],
        "steep_down": charts.steep_down[at],
    }
    endings = [ENDINGS[number] for number in charts.ended[at]]
    return ordered.with_columns(
        *(pl.Series(name, array).fill_nan(None) for name, array in columns.items()),
        pl.Series("usual_n", usual_n.astype(np.int64)),
        pl.Series("episode", charts.episode[at]),
        pl.Series("ended", endings, dtype=pl.String),
    )


def _surprise(values: Floats, trend: TrendPoints) -> Floats:
    """Distance from what was expected, in standard deviations, cut to -2..2; 0 at the first session."""
    return np.asarray(np.clip((values - trend.expected) / trend.expected_sd, -2.0, 2.0))


def _stalls(ordered: pl.DataFrame, levels: Floats, series: Integers, scale: Floats, first: Integers) -> Floats:
    """How clearly a rise stopped and how steep it was, season apart; odd sessions are cut to what is usual about the level."""
    days = ordered["on_date"].cast(pl.Int32).to_numpy().astype(np.float64)
    variance = ordered["variance"].to_numpy() / scale**2
    reach = _CUT_AT * np.sqrt(variance)
    values = np.clip(ordered["x"].to_numpy() / scale, levels - reach, levels + reach)
    growth = ordered["growth"].to_numpy() / scale / YEAR_DAYS
    return stalls(days, values, variance, growth, _season(ordered, scale), season_blocks(ordered), series, first)


def _shift_frame(ordered: pl.DataFrame, shifts: tuple[Shift, ...], series: Integers) -> pl.DataFrame:
    starts = np.searchsorted(series, [shift.series for shift in shifts]).astype(np.int64)
    found = starts + np.array([shift.signal_step for shift in shifts], dtype=np.int64)
    began = starts + np.array([shift.began_step for shift in shifts], dtype=np.int64)
    return (
        ordered[found]
        .select(*_OF_METRIC, pl.col("on_date").alias("found_on"))
        .with_columns(
            ordered[began]["on_date"].alias("began_on"), pl.Series("upward", [shift.upward for shift in shifts], dtype=pl.Boolean)
        )
    )
