"""The groups of the last day, for what is measured of each of them beside everybody."""

from __future__ import annotations

from typing import TYPE_CHECKING

from warehouse.connection import frame

if TYPE_CHECKING:
    import duckdb


def group_members(con: duckdb.DuckDBPyConnection) -> dict[str, list[str]]:
    """Name of each group to the ids of its players, both in order; call it after load."""
    rows = frame(con, "select group_name, player_id from group_member order by group_name, player_id")
    return {str(name): part["player_id"].to_list() for (name,), part in rows.group_by("group_name", maintain_order=True)}
