"""Rows of all players, some players at a time: what is told of each player alone need not be held of all at once."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

from warehouse.connection import frame

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import duckdb
    import polars as pl

PLAYERS_IN_TURN = 100
"""Players whose rows are held at once: those of one stand together in derived tables, so that others are hardly read."""

_LAST = "\U0010ffff"
"""No id lies behind the last character that there is."""


def player_spans(con: duckdb.DuckDBPyConnection, n_players: int) -> list[tuple[str, str]]:
    """First id of some players, and the one before which theirs end; every id lies in one span."""
    listed = [player_id for (player_id,) in con.execute("select player_id from player order by player_id").fetchall()]
    return list(pairwise(["", *listed[n_players::n_players], _LAST]))


def rows_in_turn(
    con: duckdb.DuckDBPyConnection, sql: str, params: Sequence[Any] = (), n_players: int = PLAYERS_IN_TURN
) -> Iterator[pl.DataFrame]:
    """The rows of a query, of some players at a time; at least one frame.

    ``sql`` ends its conditions with ``player_id >= ? and player_id < ?``, whose parameters come behind the others.
    """
    for span in player_spans(con, n_players):
        yield frame(con, sql, [*params, *span])
