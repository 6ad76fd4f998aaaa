from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from reports.single_page import single_page
from schemas.errors import NotFoundError
from tests.report.conftest import LAST_ON, academy

if TYPE_CHECKING:
    import duckdb


def test_a_page_in_one_file_needs_nothing_beside_it(con: duckdb.DuckDBPyConnection) -> None:
    page = single_page(con, academy(), audience="coach", path="players/p1.html", as_of=LAST_ON, player_id="p1")
    assert "<script" not in page
    assert "default-src &#39;none&#39;; style-src &#39;sha256-" in page
    assert len(re.findall(r'<img class="chart" alt="[^"]+" src="data:image/svg\+xml;base64,', page)) >= 4
    assert page == single_page(con, academy(), audience="coach", path="players/p1.html", as_of=LAST_ON, player_id="p1")


def test_a_page_about_the_squad_in_one_file(con: duckdb.DuckDBPyConnection) -> None:
    assert "Lark" in single_page(con, academy("de"), audience="coach", path="squad.html", as_of=LAST_ON)


def test_a_page_that_is_not_there_is_named(con: duckdb.DuckDBPyConnection) -> None:
    with pytest.raises(NotFoundError, match=r"squad\.html"):
        single_page(con, academy(), audience="coach", path="review.html", as_of=LAST_ON)
    with pytest.raises(NotFoundError, match="no player nobody"):
        single_page(con, academy(), audience="coach", path="players/nobody.html", as_of=LAST_ON, player_id="nobody")
