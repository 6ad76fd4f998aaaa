"""Rows read of some players at a time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl
import pytest
from polars.testing import assert_frame_equal

from warehouse.connection import frame, open_warehouse
from warehouse.in_turn import player_spans, rows_in_turn

if TYPE_CHECKING:
    from pathlib import Path

_SAID = "select player_id, n from said where n <= ? and player_id >= ? and player_id < ?"


@pytest.mark.parametrize("n", [0, 1, 6, 7, 8])
def test_every_row_is_read_once_whoever_is_listed(tmp_path: Path, n: int) -> None:
    """Also of an id that is in no list, before, between and behind those that are."""
    ids = ["Ä", "p10", "p9", "P", "p", "\U0001f3cc", "p1", "p2"][:n]
    with open_warehouse(tmp_path / "academy.duckdb") as con:
        for player_id in ids:
            con.execute("insert into player (player_id, alias, file_id, line) values (?, ?, 'f', 1)", [player_id, player_id])
        con.execute("create temp table said (player_id varchar, n integer)")
        for player_id in [*ids, "", "a", "zz", "\U0010fffe"]:
            con.execute("insert into said values (?, 1), (?, 2), (?, 3)", [player_id] * 3)
        parts = list(rows_in_turn(con, _SAID, [2], n_players=3))
        whole = frame(con, "select player_id, n from said where n <= 2")
        assert len(parts) == len(player_spans(con, 3)) == max(1, -(-n // 3))
        assert_frame_equal(pl.concat(parts).sort("player_id", "n"), whole.sort("player_id", "n"))
