"""Files held against what the warehouse has: how far this player's balls fly, whose swings these are, and readings seen before.

Judged on the whole file, by club, and only against sessions of the same kind: a question, never a change.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from pipelines.measures.air import REFERENCE_DENSITY_KGPM3
from pipelines.measures.carry import air_density_by_shot
from pipelines.measures.flight.shots import fly

if TYPE_CHECKING:
    from pipelines.stages.intake.check import Known

_LAUNCH = ("ball_speed_mps", "launch_deg", "direction_deg", "spin_rpm", "spin_axis_deg")
_SAMPLE, _ENOUGH, _SESSIONS = 12, 6, 4
_PLACE = ("player_id", "club", "device_id", "ball", "indoors")
"""Sessions whose carries may be compared: another ball or device flies, or reads, otherwise."""
_LEAST_AWAY, _SPREADS = 0.05, 6.0
"""How far carry over computed carry may lie from the player's own: a twentieth, or six spreads, about four standard deviations
(own choice); more where sessions are few or the file's own middle is uncertain. A yard read as a metre, or run added to a
driver's carry, is a tenth."""
_CALM_MPS, _AWAY_PER_WIND = 4.0, 0.01
"""Above this wind a hundredth more for each m/s: the wind aloft is not the wind that was written down (own choice)."""
_RAISED = 1.02
_QUANTITIES = ("club_speed_mps", "ball_speed_mps", "launch_deg", "spin_rpm", "path_deg", "face_deg", "spin_axis_deg")
_SCALE = {
    "club_speed_mps": 0.0175, "ball_speed_mps": 0.0175, "launch_deg": 0.6, "spin_rpm": 0.04, "path_deg": 0.75, "face_deg": 0.6,
    "spin_axis_deg": 1.5,
}  # fmt: skip
"""How far the middles of one player's sessions lie apart at least: a share for speeds and spin, else degrees (own choice)."""
_SHARES = ("club_speed_mps", "ball_speed_mps", "spin_rpm")
_OF_FILE = ("file", "player_id", "club")
_FEWEST_QUANTITIES = 4
"""Ball speed is left out where club speed was read: both tell the same of a player, and of a tired day."""
_NOT_OWN, _THEIRS, _TIMES_NEARER = 4.0, 1.5, 5.0
"""Mean squared distance beyond which a file is not its player's, within which it is another's, and how much nearer that is."""
READINGS = ("club_speed_mps", "ball_speed_mps", "carry_m", "launch_deg", "spin_rpm", "direction_deg")
"""What makes a shot the same reading as another, when all of it is equal."""
MOST_MET = 20
"""Sessions beyond which a reading says nothing: a coarse device writes it down again and again."""
_LEAST_COPIED, _COARSE_SHARE = 8, 0.9
"""Shots that must be the same readings; their share where a device reads speeds and carry only, which may meet by chance."""


def carry_out_of_line(shots: pl.DataFrame, known: Known) -> dict[int, str]:
    """Files whose carries lie off what launch gives in that day's air, against the player's own sessions."""
    if known.flown is None or known.flown.is_empty() or known.air is None:
        return {}
    columns = ("session_id", "player_id", "club", *_LAUNCH, "carry_m", "file")
    now = shots.select(columns).drop_nulls(["ball_speed_mps", "launch_deg", "spin_rpm", "carry_m"])
    now = now.filter(pl.int_range(pl.len()).over("file", "session_id", "club") < _SAMPLE)
    earlier = known.flown.join(now, on="session_id", how="anti")
    usual = _middles(_with_reach(earlier, known.wind_height_m), *_PLACE, "session_id").group_by(_PLACE).agg(
        pl.col("reach").median().alias("own"),
        (pl.col("reach") - pl.col("reach").median()).abs().median().alias("spread"),
        pl.len().alias("n_sessions"),
    )  # fmt: skip
    middles = _middles(_with_reach(now.join(known.air, on="session_id", how="left"), known.wind_height_m), "file", *_PLACE)
    seen = middles.join(usual.filter(pl.col("n_sessions") >= _SESSIONS), on=list(_PLACE), nulls_equal=True)
    wind = (pl.col("wind_mps").fill_null(0.0) - _CALM_MPS).clip(lower_bound=0.0) * _AWAY_PER_WIND
    few = 1 + 2 / pl.col("n_sessions")
    allowed = pl.max_horizontal(pl.lit(_LEAST_AWAY), few * _SPREADS * pl.col("spread")) + wind + 2 * pl.col("error")
    judged = seen.with_columns((pl.col("reach") / pl.col("own")).alias("times"), allowed.alias("allowed"))
    looks = judged.group_by("file").agg(
        pl.col("times").median(),
        pl.col("times").min().alias("least"),
        pl.col("n").filter(pl.col("times") > 1 + pl.col("allowed")).sum().alias("n_long"),
        pl.col("n").filter(pl.col("times") < 1 - 2 * pl.col("allowed")).sum().alias("n_short"),
        pl.col("n").sum().alias("n"),
    )
    long = (2 * pl.col("n_long") >= pl.col("n")) & (pl.col("least") > _RAISED)
    odd = looks.filter(long | (pl.col("n_short") == pl.col("n"))).sort("file")
    return {row["file"]: _told_carry(row["times"]) for row in odd.iter_rows(named=True)}


def _told_carry(times: float) -> str:
    cause = "is carry in yards, or the total distance?" if times > 1 else "is carry in other units, or of other balls?"
    return f"carry is {times:.2f} times what it is in this player's own sessions at the same launch and air: {cause}"


def _with_reach(shots: pl.DataFrame, wind_height_m: float | None) -> pl.DataFrame:
    """Carry over what the flight model gives in the session's air and wind; reference air where none was written down.

    The wind grows with height from that of its measurement, as in the flights of a night.
    """
    outdoors = ~shots["indoors"].fill_null(value=False).to_numpy()
    density = air_density_by_shot(shots, 0.0)
    density = np.where(outdoors & ~np.isnan(density), density, REFERENCE_DENSITY_KGPM3)
    wind, wind_from = (shots[name].cast(pl.Float64).fill_null(0.0).to_numpy() for name in ("wind_mps", "wind_from_deg"))
    speed, launch, direction, spin, axis = (shots[name].cast(pl.Float64).fill_null(float("nan")).to_numpy() for name in _LAUNCH)
    flight = fly(
        speed,
        launch,
        np.nan_to_num(direction),
        spin,
        np.nan_to_num(axis),
        density,
        np.where(outdoors, wind, 0.0),
        wind_from,
        step_s=0.2,
        wind_height_m=wind_height_m,
    )
    computed = np.where(flight.carry_m > 1, flight.carry_m, np.nan)
    return shots.with_columns((pl.col("carry_m") / pl.Series(computed)).fill_nan(None).alias("reach"))


def _middles(shots: pl.DataFrame, *by: str) -> pl.DataFrame:
    """Middles of sessions with their standard error, 1.86 median absolute deviations over the root of n (normal)."""
    n, spread = pl.col("reach").count(), (pl.col("reach") - pl.col("reach").median()).abs().median()
    middles = shots.group_by(by).agg(
        pl.col("reach").median(), n.alias("n"), (1.86 * spread / n.sqrt()).alias("error"), pl.col("wind_mps").max()
    )
    return middles.filter(pl.col("n") >= _ENOUGH)


def another_player(shots: pl.DataFrame, known: Known) -> dict[int, str]:
    """Files that lie far from their player's own sessions with these clubs, and close to another player's."""
    if known.usual is None or known.usual.is_empty():
        return {}
    now = (
        shots.group_by(_OF_FILE)
        .agg(*(pl.col(name).median() for name in _QUANTITIES), pl.len().alias("n"))
        .filter(pl.col("n") >= _ENOUGH)
        .unpivot(_QUANTITIES, index=["file", "player_id", "club", "n"], variable_name="quantity", value_name="now")
        .drop_nulls("now")
        .filter((pl.col("quantity") != "ball_speed_mps") | ~(pl.col("quantity") == "club_speed_mps").any().over(_OF_FILE))
    )
    usual = known.usual.filter(pl.col("n_sessions") >= _SESSIONS).rename({"player_id": "whose"})
    floor = pl.col("quantity").replace_strict(_SCALE, default=None, return_dtype=pl.Float64)
    floor = pl.when(pl.col("quantity").is_in(list(_SHARES))).then(floor * pl.col("middle").abs()).otherwise(floor)
    away = ((pl.col("now") - pl.col("middle")) / pl.max_horizontal(1.5 * pl.col("spread"), floor)).clip(-5.0, 5.0)
    near = (
        now.join(usual, on=["club", "quantity"])
        .group_by("file", "player_id", "whose")
        .agg(
            ((away**2) * pl.col("n")).sum().alias("sum"),
            pl.col("n").sum().alias("weight"),
            pl.col("quantity").n_unique().alias("k"),
        )
        .filter(pl.col("k") >= _FEWEST_QUANTITIES)
        .with_columns((pl.col("sum") / pl.col("weight")).alias("distance"))
    )
    own = near.filter(pl.col("player_id") == pl.col("whose")).select(
        "file", "player_id", "weight", pl.col("distance").alias("own")
    )
    others = near.filter(pl.col("player_id") != pl.col("whose")).join(own, on=["file", "player_id", "weight"])
    theirs = others.filter(
        pl.col("own") > _NOT_OWN, pl.col("distance") < _THEIRS, pl.col("own") > _TIMES_NEARER * pl.col("distance")
    )
    first = theirs.sort("file", "distance", "whose").unique("file", keep="first", maintain_order=True)
    return {row["file"]: _told_player(row) for row in first.iter_rows(named=True)}


def _told_player(row: dict[str, Any]) -> str:
    whose = row["whose"]
    return f"speeds and swing lie far from this player's own sessions and close to {whose}'s: are these their shots?"


def copied_readings(shots: pl.DataFrame, known: Known) -> dict[int, str]:
    """Files most of whose shots have the very readings of shots of other sessions: kept before, or in a file before it.

    Where speeds and carry are all that was read they meet by chance: such shots must be of one other session.
    """
    there = [_met_in_batch(shots)]
    if known.readings is not None:
        there.append(known.readings.select(pl.col("session_id").alias("copied_from"), *READINGS, pl.lit(-1).alias("from_file")))
    same = (
        shots.with_row_index("shot")
        .join(pl.concat(there, how="vertical_relaxed"), on=list(READINGS), nulls_equal=True)
        .filter(pl.col("session_id") != pl.col("copied_from"), pl.col("from_file") < pl.col("file"))
    )
    shot, fine = pl.col("shot"), pl.col("launch_deg").is_not_null()
    pairs = same.group_by("file", "session_id", "copied_from").agg(shot.n_unique().alias("n_same"))
    first = pairs.sort("file", "session_id", "n_same", "copied_from", descending=[False, False, True, False])
    best = first.unique(["file", "session_id"], keep="first", maintain_order=True).group_by("file", maintain_order=True)
    of = best.agg(pl.col("n_same").sum(), pl.col("copied_from").sort_by("n_same", descending=True, maintain_order=True).first())
    met = same.group_by("file").agg(shot.filter(fine).n_unique().alias("n_fine"))
    whole = shots.group_by("file").agg(pl.len().alias("n"))
    found = of.join(met, on="file").join(whole, on="file").with_columns(pl.max_horizontal("n_same", "n_fine").alias("n_same"))
    share = pl.when(pl.col("n_fine") > 0).then(0.5).otherwise(_COARSE_SHARE)
    odd = found.filter(pl.col("n_same") >= _LEAST_COPIED, pl.col("n_same") > share * pl.col("n")).sort("file")
    return {row["file"]: _told_copy(row) for row in odd.iter_rows(named=True)}


def _met_in_batch(shots: pl.DataFrame) -> pl.DataFrame:
    """Readings that stand under several sessions of a batch, but not under many."""
    whole = shots.select("session_id", "file", *READINGS).drop_nulls(list(READINGS[:3]))
    twice = whole.filter(pl.struct(READINGS).is_duplicated())
    met = twice.group_by("session_id", *READINGS).agg(pl.col("file").min().alias("from_file"))
    few = pl.len().over(READINGS).is_between(2, MOST_MET)
    return met.filter(few).select(pl.col("session_id").alias("copied_from"), *READINGS, "from_file")


def _told_copy(row: dict[str, Any]) -> str:
    some, n, session = row["n_same"], row["n"], row["copied_from"]
    return f"{some} of {n} shots have the very readings of another session, {session}: was it copied?"
