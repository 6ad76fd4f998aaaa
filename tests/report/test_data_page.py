"""The page of whoever looks after the data: what one answer brings right is one line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reports.pages import data as data_page
from reports.pages.context import page_context
from tests.report.conftest import LAST_ON, academy, insert, row
from warehouse.marts import Marts

if TYPE_CHECKING:
    import duckdb

CONTEXT = page_context(academy(), "data", LAST_ON)


def _weeks_without_consent(con: duckdb.DuckDBPyConnection, n_files: int) -> None:
    for number in range(n_files):
        file_id, name = f"{number:064x}", f"checkins_week_{number:03d}.csv"
        insert(con, "file", [row("file", file_id=file_id, name=name, kind="checkins", n_rows=9, status="loaded")])
        told = {"column": "player_id", "rule": "no_health_consent", "allowed": "body reports only of", "hint": "Ask for consent"}
        lines = [(3, "p1"), (4, "p1"), (5, "p2")]
        insert(
            con,
            "problem",
            [row("problem", file_id=file_id, line=line, value=who, severity="error", **told) for line, who in lines],
        )


def test_who_has_not_agreed_is_one_line_however_many_files_came(con: duckdb.DuckDBPyConnection) -> None:
    """Two hundred weekly files made two hundred lines, and all else was below them."""
    marts = Marts(con, "data")
    before = data_page._problem_rows(marts.rows("mart_problem")).height
    _weeks_without_consent(con, 40)
    groups = data_page._problem_rows(Marts(con, "data").rows("mart_problem"))
    theirs = groups.filter(groups["rule"] == "no_health_consent").sort("value")
    assert groups.height == before + 2
    assert theirs.select("value", "n").rows() == [("p1", 80), ("p2", 40)]
    assert [len(names) for names in theirs["files"]] == [40, 40]
    (page,) = data_page.pages(Marts(con, "data"), CONTEXT)
    assert f"{3 * 40 + 2} problems wait, in {before + 2} groups." in page.body
    assert page.body.count("and in 39 older files") == 2
    assert page.body.count("and 14 more") == 2


def test_other_problems_stay_by_file(con: duckdb.DuckDBPyConnection) -> None:
    for name in ("c", "d"):
        insert(con, "file", [row("file", file_id=name * 64, name=f"shots_{name}.csv", kind="shots", status="loaded")])
        told = {"column": "spin_rpm", "rule": "out_of_range", "value": "9", "severity": "error"}
        insert(con, "problem", [row("problem", file_id=name * 64, line=2, **told)])
    groups = data_page._problem_rows(Marts(con, "data").rows("mart_problem"))
    assert groups.filter(groups["column"] == "spin_rpm")["name"].sort().to_list() == ["shots_c.csv", "shots_d.csv"]
