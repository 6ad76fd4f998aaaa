"""Files whose numbers cannot all be true together, or are not this player's: judged on the whole file, never on one shot.

A file is held with a question. Nothing is changed: only a person knows whether a device, a mapping or the player is the odd one.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from pipelines.measures.flight.shots import fly
from pipelines.stages.intake.own_sessions import another_player, carry_out_of_line, copied_readings
from pipelines.stages.intake.own_speeds import clubs_named_wrongly, speeds_in_other_units, speeds_of_nobody
from schemas.clubs import club_group

if TYPE_CHECKING:
    from collections.abc import Callable

    from pipelines.stages.intake.check import Known
    from schemas.files import FileKind

USUAL = (
    "club_speed_mps", "ball_speed_mps", "launch_deg", "spin_rpm", "carry_m", "path_deg", "face_deg", "spin_axis_deg", "shape",
    "descent_deg", "reach",
)  # fmt: skip
"""Quantities whose middle is compared with that of the player's own sessions with the same club."""
_FLOOR = {
    "club_speed_mps": 0.035, "ball_speed_mps": 0.035, "launch_deg": 1.2, "spin_rpm": 0.08, "carry_m": 0.05, "path_deg": 1.5,
    "face_deg": 1.2, "spin_axis_deg": 3.0, "shape": 0.014,
    "descent_deg": 1.0, "reach": 0.02,
}  # fmt: skip
"""How far sessions of one player lie apart at least: a share for speeds, spin and carry, degrees for angles (common practice)."""
_SHARES = {"club_speed_mps", "ball_speed_mps", "spin_rpm", "carry_m", "shape", "reach"}
SHAPE = pl.col("carry_m") * pl.col("descent_deg").radians().tan() / pl.col("apex_m")
"""Carry times the slope of the descent over the apex: the shape of the arc. Wind and air move all three together, a carry that is
in yards or is the total moves it alone."""
REACH = pl.col("carry_m") / pl.col("ball_speed_mps")
"""Carry for each m/s of ball speed."""
_ONLY_FOR_SHAPE = ["shape", "descent_deg", "reach"]
_ENOUGH, _SAMPLE, _FAR, _SESSIONS = 8, 10, 4.0, 5
BENT = 2.0
"""How many spreads the arc must be bent; with a carry that has grown alike, less is enough than for one quantity alone."""
_FIRST_YEAR = 2000
_LEAST_REACH, _MOST_REACH = 0.62, 1.35
_LEAST_RATIO = 0.85
_BETTER, _BETTER_BY_SHOT = 0.4, 0.95
_ENOUGH_SIDES, _NO_CHANCE = 10, -3.5
_AGAINST = {False: -0.5, True: -0.92}
"""Balls that start further right end further right. A rank correlation of irons below -.5 is no swing's (simulated, with paths up
to four times as scattered as faces); with woods a ball from the toe starts right and curves left, so that only -.92 is none.
Fisher's z of it, times the root of n - 3, must be what chance brings once in four thousand files (own choice)."""
_ALONG, _OF_A_DAY = 0.45, 0.2
"""Correlation beyond which balls go along with their start, or against it; how far one day's lies from a player's own, in
Fisher's z (own choice)."""
_TOLD_AGAINST = "balls that start right end left, shot by shot: are left and right of direction or offline swapped?"


def looks_wrong(kind: FileKind, values: pl.DataFrame, file: pl.Series, known: Known) -> dict[int, str]:
    """Files of shots that look wrong as a whole, with what speaks for it and the likeliest cause."""
    if kind.name != "shots" or values.is_empty():
        return {}
    shots = values.with_columns(file.alias("file"))
    told: dict[int, str] = {}
    for judge in (_old_days, _swapped_speeds, _impossible_flights, _crossed_sides):
        told = {**judge(shots), **told}
    for held_against in (
        speeds_of_nobody,
        copied_readings,
        speeds_in_other_units,
        another_player,
        clubs_named_wrongly,
        carry_out_of_line,
        _against_their_own_start,
        _not_this_player,
    ):
        told = {**held_against(shots, known), **told}
    return dict(sorted(told.items()))


def _rows(frame: pl.DataFrame, tell: Callable[[dict[str, Any]], str]) -> dict[int, str]:
    return {row["file"]: tell(row) for row in frame.sort("file").iter_rows(named=True)}


def _old_days(shots: pl.DataFrame) -> dict[int, str]:
    days = shots.group_by("file").agg(pl.col("struck_at").median().alias("at"))
    old = days.filter(pl.col("at").dt.year() < _FIRST_YEAR)
    return _rows(old, lambda row: f"the shots are of {row['at']:%Y}: is the clock of the device set?")


def _swapped_speeds(shots: pl.DataFrame) -> dict[int, str]:
    """A ball leaves faster than the head that struck it, but for the softest shots."""
    looks = shots.group_by("file").agg(
        (pl.col("ball_speed_mps") / pl.col("club_speed_mps")).median().alias("ratio"),
        (pl.col("ball_speed_mps") / pl.col("club_speed_mps")).count().alias("n"),
    )
    odd = looks.filter((pl.col("n") >= _ENOUGH) & (pl.col("ratio") < _LEAST_RATIO))
    told = "the ball leaves at only {:.2f} times club speed: are the two swapped, or in different units?"
    return _rows(odd, lambda row: told.format(row["ratio"]))


def _flown(sample: pl.DataFrame, launch: str, direction: str) -> tuple[np.ndarray, np.ndarray]:
    columns = [sample[name].to_numpy() for name in ("ball_speed_mps", launch, direction, "spin_rpm", "spin_axis_deg")]
    flight = fly(*columns, step_s=0.2)
    return flight.carry_m, flight.offline_m


def _positive(carry: np.ndarray) -> np.ndarray:
    return np.where(carry > 1, carry, np.nan)


def _impossible_flights(shots: pl.DataFrame) -> dict[int, str]:
    """Carry against what ball speed, launch and spin give in still, ordinary air.

    Carry is doubted below .62 and above 1.35 of it (common practice, set wide: wind, height and slow balls stay within).
    Smaller faults show against the player's own sessions only.
    """
    needed = ("ball_speed_mps", "launch_deg", "spin_rpm", "carry_m")
    whole = shots.filter(pl.all_horizontal(pl.col(name).is_not_null() for name in needed), pl.col("carry_m") > 30)
    every = pl.max_horizontal(pl.len() // _SAMPLE, 1)
    sample = whole.filter((pl.int_range(pl.len()) % every == 0).over("file"))
    if sample.is_empty():
        return {}
    straight, _ = _flown(sample, "launch_deg", "direction_deg")
    crossed, _ = _flown(sample, "direction_deg", "launch_deg")
    carry = sample["carry_m"].to_numpy()
    looks = (
        pl.DataFrame({"file": sample["file"], "reach": carry / _positive(straight), "crossed": carry / _positive(crossed)})
        .with_columns(pl.col("reach", "crossed").fill_nan(None))
        .group_by("file")
        .agg(pl.col("reach", "crossed").median(), pl.col("reach").count().alias("n"), pl.len().alias("all"))
    )
    launches = looks.filter(pl.col("all") >= _ENOUGH, pl.col("n") < 0.7 * pl.col("all"), pl.col("crossed").is_between(0.8, 1.2))
    told = _rows(launches, lambda _: "carry fits only if launch and direction are the other way round: are they swapped?")
    odd = looks.filter(pl.col("n") >= _ENOUGH, ~pl.col("reach").is_between(_LEAST_REACH, _MOST_REACH))
    return told | _rows(odd, lambda row: _told_reach(row["reach"], row["crossed"]))


def _told_reach(reach: float, crossed: float | None) -> str:
    cause = "are speeds in other units?"
    if crossed is not None and abs(crossed - 1) < 0.2:
        cause = "are launch and direction swapped?"
    elif 2.6 < reach < 4:
        cause = "is carry in feet?"
    elif reach > 1:
        cause = "is carry in yards, or the total distance?"
    return f"carry is {reach:.2f} times what ball speed, launch and spin can give: {cause}"


def _crossed_sides(shots: pl.DataFrame) -> dict[int, str]:
    """Sides that contradict one another within a file: where the ball ended, where it started, and how it curved.

    They must do so from shot to shot too, with the middle of the day taken off: a wind from the side moves all balls alike.
    """
    offline, carry, start, axis = (pl.col(name) for name in ("offline_m", "carry_m", "direction_deg", "spin_axis_deg"))
    started = carry * start.radians().sin()
    curved = carry * 0.0025 * carry.clip(upper_bound=260) / 200 * axis * 1.6
    face, path = pl.col("face_deg"), pl.col("path_deg")

    def misfit(told: pl.Expr) -> pl.Expr:
        return ((offline - told) ** 2).mean()

    def unsteady(told: pl.Expr) -> pl.Expr:
        return (offline - told).var()

    looks = shots.group_by("file").agg(
        misfit(started + curved).alias("as_it_is"),
        misfit(-started - curved).alias("offline"),
        misfit(curved - started).alias("direction"),
        unsteady(started + curved).alias("by_shot"),
        pl.min_horizontal(unsteady(-started - curved), unsteady(curved - started)).alias("by_shot_turned"),
        (offline + started + curved).count().alias("n"),
        pl.corr(face - path, axis).alias("turn"),
        (face - path + axis).count().alias("n_turn"),
        ((start - 0.8 * face - 0.2 * path) ** 2).mean().alias("by_face"),
        ((start - 0.8 * path - 0.2 * face) ** 2).mean().alias("by_path"),
    )
    enough = looks.filter(pl.col("n") >= _ENOUGH)
    flipped = enough.filter(
        pl.min_horizontal("offline", "direction") < _BETTER * pl.col("as_it_is"),
        pl.col("as_it_is") > 25,
        pl.col("by_shot_turned") < _BETTER_BY_SHOT * pl.col("by_shot"),
    )
    told = _rows(
        flipped,
        lambda row: (
            "where balls end does not fit where they start and how they curve: are left and right of "
            f"{'offline' if row['offline'] <= row['direction'] else 'direction'} swapped?"
        ),
    )
    told = _rows(_against_the_start(shots), lambda _: _TOLD_AGAINST) | told
    crossed = looks.filter(pl.col("n_turn") >= _ENOUGH, pl.col("turn") < -0.5, pl.col("by_path") < 0.7 * pl.col("by_face"))
    return _rows(crossed, lambda _: "balls start along the path and curve against the face: are face and path swapped?") | told


def _against_the_start(shots: pl.DataFrame) -> pl.DataFrame:
    """Files in which balls end to the left the further right they start; told without a spin axis, which few devices read."""
    is_wood = club_group(pl.col("club")).is_in(["iron", "wedge"]).not_().fill_null(value=True)
    both = shots.drop_nulls(["direction_deg", "offline_m"]).group_by("file", is_wood.alias("is_wood"))
    found = both.agg(pl.corr("direction_deg", "offline_m", method="spearman").alias("side"), pl.len().alias("n")).filter(
        pl.col("n") >= _ENOUGH_SIDES,
        pl.col("side") < pl.col("is_wood").replace_strict(_AGAINST, return_dtype=pl.Float64),
        pl.col("side").clip(lower_bound=-0.9999).arctanh() * (pl.col("n") - 3).sqrt() < _NO_CHANCE,
    )
    return found.unique("file", keep="first", maintain_order=True)


def _against_their_own_start(shots: pl.DataFrame, known: Known) -> dict[int, str]:
    """Files in which balls end to the left the further right they start, of players whose balls have gone along with their start.

    With a wood that alone is no fault: who strikes all over the face has such balls. Whoever has not had them in several
    sessions has them now by a side that is swapped.
    """
    if known.usual is None or known.usual.is_empty():
        return {}
    own = known.usual.filter(pl.col("quantity") == "side", pl.col("n_sessions") >= _SESSIONS, pl.col("middle") > _ALONG)
    both = shots.drop_nulls(["direction_deg", "offline_m"]).group_by("file", "player_id", "club")
    now = both.agg(pl.corr("direction_deg", "offline_m", method="spearman").alias("side"), pl.len().alias("n"))
    z = pl.col("side").clip(-0.9999, 0.9999).arctanh() - pl.col("middle").clip(upper_bound=0.9999).arctanh()
    odd = now.join(own, on=["player_id", "club"]).filter(
        pl.col("n") >= _ENOUGH_SIDES, pl.col("side") < -_ALONG, z / (1 / (pl.col("n") - 3) + _OF_A_DAY**2).sqrt() < _NO_CHANCE
    )
    return _rows(_mostly(odd, shots.group_by("file").agg(pl.len().alias("all"))), lambda _: _TOLD_AGAINST)


def _not_this_player(shots: pl.DataFrame, known: Known) -> dict[int, str]:
    """Files in which several quantities at once lie far from this player's own sessions with the club."""
    if known.usual is None or known.usual.is_empty():
        return {}
    now = (
        shots.with_columns(SHAPE.alias("shape"), REACH.alias("reach"))
        .group_by("file", "player_id", "club")
        .agg(*(pl.col(name).median() for name in USUAL), pl.len().alias("n"))
    )
    long = now.filter(pl.col("n") >= _ENOUGH).unpivot(
        USUAL, index=["file", "player_id", "club", "n"], variable_name="quantity", value_name="now"
    )
    seen = long.drop_nulls("now").join(
        known.usual.filter(pl.col("n_sessions") >= _SESSIONS), on=["player_id", "club", "quantity"], how="inner"
    )
    floor = pl.col("quantity").replace_strict(_FLOOR, default=None, return_dtype=pl.Float64)
    floor = pl.when(pl.col("quantity").is_in(list(_SHARES))).then(floor * pl.col("middle").abs()).otherwise(floor)
    away = (pl.col("now") - pl.col("middle")).abs() / pl.max_horizontal(1.5 * pl.col("spread"), floor)
    own = ~pl.col("quantity").is_in(_ONLY_FOR_SHAPE)
    far = (
        seen.with_columns(away.alias("away"), (pl.col("now") / pl.col("middle")).alias("times"), floor.alias("floor"))
        .group_by("file", "player_id", "club", "n")
        .agg(
            (own & (pl.col("away") > _FAR)).sum().alias("n_far"),
            pl.col("quantity").filter(own, pl.col("away") > _FAR).unique(maintain_order=True).alias("which"),
            pl.len().alias("n_seen"),
            _mirrored().alias("n_mirrored"),
            _is_sided().sum().alias("n_sided"),
            *_of("shape", "times", "away"),
            *_of("descent_deg", "away"),
            *_of("reach", "times"),
        )
    )
    told = "{} lie far from this player's own sessions: are these another player's shots, or another club's?"
    whole = shots.group_by("file").agg(pl.len().alias("all"))
    odd = _mostly(far.filter(pl.col("n_far") >= 2), whole)
    bent = _mostly(far.filter(pl.col("shape_away") > BENT, (pl.col("shape_times") < 0.5) | _carry_alone()), whole)
    sides = _mostly(far.filter(pl.col("n_sided") >= 2, pl.col("n_mirrored") == pl.col("n_sided")), whole)
    return {
        **_rows(odd, lambda row: told.format(", ".join(row["which"]))),
        **_rows(bent, lambda row: _told_shape(row["shape_times"])),
        **_rows(sides, lambda _: "left and right are the mirror of this player's own sessions: are all sides swapped?"),
    }


def _mostly(odd: pl.DataFrame, whole: pl.DataFrame) -> pl.DataFrame:
    """Files of which most shots are odd, with the figures of the player and club that has most of them."""
    share = odd.group_by("file").agg(pl.col("n").sum().alias("n_odd")).join(whole, on="file")
    files = share.filter(2 * pl.col("n_odd") > pl.col("all"))
    return odd.join(files, on="file", how="semi").sort("file", "n", descending=[False, True]).unique("file", keep="first")


def _told_shape(times: float) -> str:
    cause = "is carry in yards, or the total distance?" if times > 1 else "is the apex in feet, or carry in other units?"
    return f"carry, apex and descent do not fit one another as in this player's own sessions ({times:.2f} times): {cause}"


def _of(quantity: str, *what: str) -> list[pl.Expr]:
    """Figures of one quantity of a file; the first club's, where there are several."""
    return [pl.col(name).filter(pl.col("quantity") == quantity).first().alias(f"{quantity}_{name}") for name in what]


def _carry_alone() -> pl.Expr:
    """Carry has grown against ball speed by as much as the arc is bent, while the ball comes down as steeply as ever."""
    grown = (pl.col("reach_times") / pl.col("shape_times")).is_between(0.85, 1.15) & (pl.col("reach_times") > 1.03)
    return grown & (pl.col("shape_times") > 1.04) & (pl.col("descent_deg_away") < 6.0)


def _is_sided() -> pl.Expr:
    """Quantities with a side that this player clearly has one on."""
    return pl.col("quantity").is_in(["path_deg", "face_deg", "spin_axis_deg"]) & (pl.col("middle").abs() > pl.col("floor"))


def _mirrored() -> pl.Expr:
    other = (pl.col("now") + pl.col("middle")).abs() < (pl.col("now") - pl.col("middle")).abs() / 3
    return (_is_sided() & other).sum()
