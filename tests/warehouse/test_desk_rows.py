"""What the desk's lists are made of."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from tests.report.conftest import insert, row
from warehouse.connection import open_warehouse
from warehouse.desk import file_rows

if TYPE_CHECKING:
    from pathlib import Path

TODAY = dt.date(2026, 9, 30)
MARCH, SEPTEMBER = (dt.datetime(2026, month, 1, 6, 0) for month in (3, 9))  # noqa: DTZ001 - instants are UTC without a zone


def came(number: int, status: str, at: dt.datetime) -> dict[str, Any]:
    named = {"file_id": f"{number:064d}", "name": f"shots_{number}.csv", "kind": "shots"}
    return row("file", **named, status=status, received_at=at)


def test_a_file_that_is_held_is_listed_however_many_have_come_since(tmp_path: Path) -> None:
    """The desk said that nothing is held, and the pages that five files are."""
    with open_warehouse(tmp_path / "academy.duckdb") as con:
        insert(con, "file", [came(0, "held", MARCH), *(came(n, "loaded", SEPTEMBER) for n in range(1, 211))])
        listed = file_rows(con, TODAY, 112)
    assert listed.height == 200
    assert listed.filter(status="held")["name"].to_list() == ["shots_0.csv"]
    assert listed["received_at"].is_sorted(descending=True)
