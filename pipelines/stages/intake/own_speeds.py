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
_AS_FAST = 0.97
"""Club speed of an iron over that of the driver above which the name is doubted: a 2-iron has .93 of it, a 7-iron .8 (common
practice)."""


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


def _told_club(row: dict[str, Any]) -> str:
    return f"the club {row['club']} is swung as fast as this player's driver: is the club named rightly?"
