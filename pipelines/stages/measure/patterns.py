"""Patterns: normal swings by month in; sessions in still air, and quartiles and patterns by month out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.scatter.months import patterns_by_month, quartiles_by_month, usual_spreads
from pipelines.measures.summary import SESSION_GRAIN, session_summary
from pipelines.measures.transfer.months import transfer_levels
from pipelines.stages.stale import MONTH, Apart, Read, renew
from schemas.core.ball import PATTERN_MONTH, QUARTILE_MONTH
from schemas.core.summaries import STILL_SESSION
from schemas.core.transfer import TRANSFER_LEVEL
from warehouse.connection import frame
from warehouse.units import view_digests

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from datetime import date

    import duckdb

    from schemas.academy import Academy

_ORDER = ("player_id", "on_date", "session_id", "shot_no")
_OF_BOTH = (
    *("player_id", "month_on", "session_id", "on_date", "club", "club_group"),
    *("carry_m", "carry_pooled_m", "carry_bearman_harvey_m", "offline_m", "direction_deg"),
    *("club_speed_mps", "launch_deg", "spin_rpm"),
)
_TOLD = (*_OF_BOTH, "comparable_speed_ratio", "is_factor_known", "device_id", "strike_side_mm", "strike_height_mm")
_FITTED = (*_OF_BOTH, "method", "run_m", "speed_ratio")
_QUARTILES = "select * from quartile_month order by player_id, club_group, month_on"
_MADE_OF = ("normal_swing", "comparable_shot", "session_factor")
_STILL = ("carry_m", "offline_m")


def swings_told(con: duckdb.DuckDBPyConnection, as_of: date) -> pl.DataFrame:
    """What comparable swings of a player's month are made of, digested: swings, restated shots, and factors of balls.

    So none of them need be joined to be told. A row of player_id, month_on and digest for each of the three, in months that have
    the first two.
    """
    parts = [view_digests(con, view, MONTH, ("on_date", as_of), "on_date") for view in _MADE_OF]
    both = parts[0].join(parts[1], on=MONTH, how="semi").select(MONTH)
    named = [part.with_columns(pl.lit(f"{view}:") + pl.col("digest")) for view, part in zip(_MADE_OF, parts, strict=True)]
    return pl.concat(part.join(both, on=MONTH, how="semi") for part in named)


def swings_of_months(swings: Read, told: pl.DataFrame) -> Apart:
    """What the swings of a player's month tell by themselves; ``told``: their digests."""
    tables = (STILL_SESSION, QUARTILE_MONTH, TRANSFER_LEVEL)
    return Apart("swings", tables, {"swings": swings, "told": told}, swing_rows, "", by=MONTH)


def swing_rows(read: Mapping[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
    """Rows of ``still_session``, ``quartile_month`` and ``transfer_level``.

    Carry is restated of shots without a direction too: sessions with one and without stand in one series.
    """
    shots = read["swings"]
    unread = [pl.lit(None).alias(name) for name in ("session_kind", "ball", "indoors")]
    restated = shots.filter(pl.col("carry_m").is_not_null()).with_columns(
        *unread, pl.lit(None, dtype=pl.Float64).alias("ball_speed_mps")
    )
    months = restated.select(*SESSION_GRAIN, "month_on").unique()
    still = session_summary(restated, _STILL, _STILL).join(months, on=list(SESSION_GRAIN), how="left")
    return {
        STILL_SESSION.name: still,
        QUARTILE_MONTH.name: quartiles_by_month(shots),
        TRANSFER_LEVEL.name: transfer_levels(shots),
    }


def fitted_months(swings: Read, told: pl.DataFrame, usual: pl.DataFrame) -> Apart:
    """The pattern of a player's month, beside what was usual in the squad when it began."""
    reads: dict[str, Read | pl.DataFrame] = {"swings": swings, "told": told, "usual": usual}
    return Apart("patterns", (PATTERN_MONTH,), reads, pattern_rows, "", by=MONTH)


def pattern_rows(read: Mapping[str, pl.DataFrame]) -> dict[str, pl.DataFrame]:
    """Rows of ``pattern_month``."""
    return {PATTERN_MONTH.name: patterns_by_month(read["swings"], PATTERN_MONTH.polars_schema(), read["usual"])}


def swings_and_patterns(con: duckdb.DuckDBPyConnection, as_of: date) -> Iterator[Apart]:
    """The stages that rest on comparable swings, one after the other: the second reads what the first has written by then."""
    until = ("on_date", as_of)
    told = swings_told(con, as_of)
    swings, fitted = (Read("swing_of_month", _ORDER, until, told=False, columns=columns) for columns in (_TOLD, _FITTED))
    yield swings_of_months(swings, told)
    yield fitted_months(fitted, told, usual_spreads(frame(con, _QUARTILES)))


def measure_patterns(con: duckdb.DuckDBPyConnection, _academy: Academy, as_of: date) -> None:
    """Write what comparable swings up to ``as_of`` tell: patterns by month, what trends and transfer need."""
    for apart in swings_and_patterns(con, as_of):
        renew(con, apart)
