"""Files held against the speeds of the player's own sessions: one quantity is enough where no swing can have moved it so far."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from schemas.clubs import club_group
from schemas.units import UNITS

if TYPE_CHECKING:
    from pipelines.stages.intake.check import Known

_SPEEDS = ("club_speed_mps", "ball_speed_mps")
_ENOUGH, _SESSIONS = 5, 3
_MOST_TIMES = 1.45
"""How many times the player's own speed the middle of a day may be (own choice): a season of speed work adds a twentieth."""
_LEAST_OFF = 0.05
"""How near the slower side must lie to what two units differ by: half swings are slow too, but seldom just so slow."""
_UNIT_TIMES = sorted(
    {UNITS[one].factor / UNITS[other].factor for one in ("m/s", "mph", "km/h") for other in ("m/s", "mph", "km/h")}
)
"""What a speed is multiplied by when one of these units is read as another."""
_OF = ("player_id", "club")
_NOTHING = pl.DataFrame(schema=dict.fromkeys(_OF, pl.String))
_AS_FAST = 0.97
"""Club speed of an iron over that of the driver above which the name is doubted: a 2-iron has .93 of it, a 7-iron .8 (common
practice)."""
_FASTEST_MPS = {"driver": 56.0, "fairway": 54.0, "hybrid": 51.0, "iron": 49.0, "wedge": 44.0}
"""Club speed [m/s] of a whole session that hardly anybody reaches who plays for a score; 125 mph with the driver (common
practice)."""
_FASTEST_OF_AGE = ((10, 0.68), (12, 0.77), (14, 0.88))
"""Up to which age hardly anybody has more than which share of that: 85, 96 and 110 mph with the driver (common practice)."""
_SLOWEST_MPS = 15.0
"""Club speed [m/s] below which hardly a child swings: 34 mph (common practice)."""
_SQUAD, _SPREAD, _FAR_OFF, _WITHIN = 5, 0.12, 3.0, 2.0
"""Players who make a squad; how far apart they lie at least, as a share; spreads beyond which a speed is none of theirs, and
within which another unit makes it one (own choice)."""


def speeds_in_other_units(shots: pl.DataFrame, known: Known) -> dict[int, str]:
    """Files whose speeds are the player's own, times what two units differ by, or faster than anybody becomes."""
    if known.usual is None or known.usual.is_empty():
        return {}
    now = _middles(shots).unpivot(_SPEEDS, index=["file", "player_id", "club", "n"], variable_name="quantity", value_name="now")
    own = known.usual.filter(pl.col("middle") > 0).with_columns((pl.col("n_sessions") >= _SESSIONS).alias("is_settled"))
    seen = now.drop_nulls("now").join(own, on=["player_id", "club", "quantity"])
    times = pl.col("now") / pl.col("middle")
    by_a_unit = pl.any_horizontal((times / unit - 1).abs() < _LEAST_OFF for unit in _UNIT_TIMES if unit < 1)
    odd = seen.with_columns(times.alias("times")).filter((times > _MOST_TIMES) | (by_a_unit & pl.col("is_settled")))
    return _most_of_each(odd, shots, _told_units)


def speeds_of_nobody(shots: pl.DataFrame, known: Known) -> dict[int, str]:
    """Files of clubs that their player has no session with, swung faster than anybody of that age does, or than the squad does.

    Nothing else tells of a speed in mph that is read as m/s where nothing but club speed was read.
    """
    own = _NOTHING if known.usual is None else known.usual.filter(pl.col("quantity") == "club_speed_mps")
    new = _middles(shots).join(own, on=_OF, how="anti")
    seen = _beside_squad(_with_fastest(new, shots, known), known).with_columns(pl.col("club_speed_mps").alias("now"))
    odd = seen.filter((pl.col("now") > pl.col("fastest")) | pl.col("is_of_no_squad"))
    return _most_of_each(odd, shots, _told_nobody)


def _with_fastest(new: pl.DataFrame, shots: pl.DataFrame, known: Known) -> pl.DataFrame:
    """With ``age`` at the end of the year of the file, and the speed that hardly anybody of it reaches."""
    born = pl.DataFrame(schema={"player_id": pl.String, "birth_year": pl.Int64}) if known.born is None else known.born
    year = shots.group_by("file").agg(pl.col("struck_at").max().dt.year().cast(pl.Int64).alias("year"))
    age = (pl.col("year") - pl.col("birth_year")).alias("age")
    aged = new.join(year, on="file").join(born, on="player_id", how="left").with_columns(age)
    share = pl.coalesce(pl.when(pl.col("age") <= most).then(part) for most, part in _FASTEST_OF_AGE)
    fastest = club_group(pl.col("club")).replace_strict(_FASTEST_MPS, default=None, return_dtype=pl.Float64)
    return aged.with_columns((fastest * share.fill_null(1.0)).alias("fastest"))


def _beside_squad(new: pl.DataFrame, known: Known) -> pl.DataFrame:
    """With ``squad``, the middle of the others with this club, and whether only another unit makes the speed one of theirs."""
    told = pl.lit(None, dtype=pl.Float64).alias("squad"), pl.lit(value=False).alias("is_of_no_squad")
    if known.usual is None or known.usual.is_empty():
        return new.with_columns(told)
    log = pl.col("middle").log()
    squad = (
        known.usual.filter(pl.col("quantity") == "club_speed_mps", pl.col("middle") > 0)
        .group_by("club")
        .agg(log.median().alias("log"), log.std().alias("apart"), pl.len().alias("n_players"))
        .filter(pl.col("n_players") >= _SQUAD)
    )
    apart = pl.max_horizontal("apart", pl.lit(_SPREAD))
    off = (pl.col("club_speed_mps").log() - pl.col("log")) / apart
    slower = [
        ((pl.col("club_speed_mps") * unit).log() - pl.col("log")).abs() / apart < _WITHIN for unit in _UNIT_TIMES if unit < 0.6
    ]
    is_none = ((off > _FAR_OFF) & pl.any_horizontal(slower)).fill_null(value=False).alias("is_of_no_squad")
    return new.join(squad, on="club", how="left").with_columns(pl.col("log").exp().alias("squad"), is_none)


def speeds_nothing_speaks_for(shots: pl.DataFrame, known: Known) -> pl.DataFrame:
    """Of each file the first player whose speeds would be a person's in mph too, and are held against nothing.

    There is neither a session of theirs with the club, nor a year of birth, nor a squad, nor a carry that would have to fit.

    Returns
    -------
    polars.DataFrame
        ``file``, ``row`` of the first shot, ``club_speed_mps``: the middle.
    """
    own = _NOTHING if known.usual is None else known.usual.filter(pl.col("quantity") == "club_speed_mps").select(_OF)
    born = pl.DataFrame(schema={"player_id": pl.String, "birth_year": pl.Int64}) if known.born is None else known.born
    flown = pl.all_horizontal(pl.col(name).is_not_null() for name in ("ball_speed_mps", "launch_deg", "carry_m"))
    middles = shots.group_by("file", *_OF).agg(
        pl.col("club_speed_mps").median(),
        pl.col("club_speed_mps").count().alias("n"),
        flown.sum().alias("n_flown"),
        pl.col("row").min(),
    )
    alone = _beside_squad(middles, known).filter(
        pl.col("n") >= _ENOUGH,
        pl.col("n_flown") < _ENOUGH,
        pl.col("squad").is_null(),
        pl.col("club_speed_mps") * UNITS["mph"].factor / UNITS["m/s"].factor > _SLOWEST_MPS,
    )
    unknown = alone.join(own, on=_OF, how="anti").join(born.drop_nulls(), on="player_id", how="anti")
    return unknown.sort("file", "row").unique("file", keep="first", maintain_order=True).select("file", "row", "club_speed_mps")


def clubs_named_wrongly(shots: pl.DataFrame, known: Known) -> dict[int, str]:
    """Files whose irons or wedges are swung as fast as this player's driver."""
    if known.usual is None or known.usual.is_empty():
        return {}
    driver = known.usual.filter(
        pl.col("club") == "driver", pl.col("quantity") == "club_speed_mps", pl.col("n_sessions") >= _SESSIONS
    ).select("player_id", "middle")
    irons = _middles(shots).filter(club_group(pl.col("club")).is_in(["iron", "wedge"]))
    odd = irons.join(driver, on="player_id").filter(pl.col("club_speed_mps") > _AS_FAST * pl.col("middle"))
    return _most_of_each(odd, shots, _told_club)


def _middles(shots: pl.DataFrame) -> pl.DataFrame:
    by = shots.group_by("file", "player_id", "club").agg(*(pl.col(name).median() for name in _SPEEDS), pl.len().alias("n"))
    return by.filter(pl.col("n") >= _ENOUGH)


def _most_of_each(odd: pl.DataFrame, shots: pl.DataFrame, tell: Any) -> dict[int, str]:
    """What is told of each file in which more than half of the shots are odd: of the player and club that has most of them."""
    whole = shots.group_by("file").agg(pl.len().alias("all"))
    clubs = odd.sort("file", "n", "player_id", "club", descending=[False, True, False, False]).unique(
        ["file", "player_id", "club"], keep="first", maintain_order=True
    )
    share = clubs.group_by("file").agg(pl.col("n").sum().alias("n_odd")).join(whole, on="file")
    held = clubs.join(share.filter(2 * pl.col("n_odd") > pl.col("all")), on="file", how="semi", maintain_order="left")
    first = held.unique("file", keep="first", maintain_order=True)
    return {row["file"]: tell(row) for row in first.iter_rows(named=True)}


def _told_units(row: dict[str, Any]) -> str:
    what = "club speed" if row["quantity"] == "club_speed_mps" else "ball speed"
    return f"{what} is {row['times']:.2f} times what it is in this player's own sessions with this club: is it in other units?"


def _told_nobody(row: dict[str, Any]) -> str:
    if row["now"] > row["fastest"]:
        whom = "tour players" if row["fastest"] in _FASTEST_MPS.values() else f"players of {row['age']} years"
        return f"club speed with the {row['club']} is {row['now']:.1f} m/s, faster than {whom} swing it: is it in mph?"
    times = row["now"] / row["squad"]
    return f"club speed with the {row['club']} is {times:.2f} times what others here swing it at: is it in other units?"


def _told_club(row: dict[str, Any]) -> str:
    return f"the club {row['club']} is swung as fast as this player's driver: is the club named rightly?"
