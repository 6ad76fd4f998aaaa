"""A phase that many players had: the newest times are listed and drawn, whatever they brought."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import TYPE_CHECKING

from reports.pages import programme
from reports.pages.context import page_context
from tests.report.conftest import LAST_ON, academy, insert, row
from warehouse.marts import Marts

if TYPE_CHECKING:
    import duckdb


def test_the_picture_shows_the_newest_times_and_not_the_best(con: duckdb.DuckDBPyConnection) -> None:
    n = programme.MOST_SHOWN + 3
    began = [LAST_ON - timedelta(days=7 * place) for place in range(n)]
    insert(
        con,
        "phase",
        [
            row("phase", player_id="p1", phase="build", began_on=day, ended_on=day, speed_change_mps=place - 5.0)
            | {"speed_change_low_mps": place - 6.0, "speed_change_high_mps": place - 4.0}
            for place, day in enumerate(began)
        ],
    )
    marts = Marts(con, "coach")
    (page,) = programme.pages(marts, page_context(academy(), "coach", LAST_ON))
    drawn = re.search(r'data-kind="forest".*?<script[^>]*>(.*?)</script>', page.body, re.DOTALL)
    assert drawn, page.body
    assert f"{began[0]:%b %Y}" in drawn[1]
    assert f"{began[-1]:%b %Y}" not in drawn[1]
    assert page.body.count("<tr") == programme.MOST_SHOWN + 1
    assert "3 earlier ones are not listed here" in page.body
