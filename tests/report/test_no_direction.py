"""Where no device measures a direction: pages say why there is no scatter and no cost, not that there are too few drives."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from reports.tokens import player_token
from tests.report.conftest import KEY, build

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

WHY = "no shot has come with a direction, so neither scatter nor what the drives cost can be told"
OWN = f"players/{player_token('p1', KEY)}"


@pytest.mark.parametrize("sided", [False, True])
def test_pages_say_why_there_is_neither_scatter_nor_cost(con: duckdb.DuckDBPyConnection, tmp_path: Path, sided: bool) -> None:
    con.execute("delete from stroke_month where player_id = 'p1'").fetchall()
    con.execute("delete from trend_point where player_id = 'p1' and metric in ('scatter_side_m', 'wild_pct')").fetchall()
    con.execute("update shot set offline_m = ?, direction_deg = null where player_id = 'p1'", [1.0 if sided else None]).fetchall()
    build(con, tmp_path / "site")
    for name in ("coach/players/p1", "physio/players/p1", "coach/season/p1", f"{OWN}/index", f"{OWN}/season"):
        page = (tmp_path / "site" / f"{name}.html").read_text(encoding="utf-8")
        assert (WHY in page) is not sided, name
        assert "too few drives" not in page.lower() or sided, name
