"""The choice of a group: who stands in it, for whom it is made, and that pages of an academy without groups lack it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from reports.pages.context import page_context
from reports.pages.groups import group_choice
from tests.report.conftest import LAST_ON, academy, insert, row
from warehouse.marts import Marts

if TYPE_CHECKING:
    import duckdb

    from warehouse.marts import Audience


def choice(con: duckdb.DuckDBPyConnection, audience: Audience) -> str:
    return group_choice(Marts(con, audience), page_context(academy(), audience, LAST_ON))


def options(markup: str) -> dict[str, str]:
    return dict(re.findall(r'<option value="([^"]+)" data-ids="([^"]*)"', markup))


@pytest.mark.parametrize("audience", ["coach", "physio"])
def test_each_group_is_offered_with_its_members_of_the_last_day(con: duckdb.DuckDBPyConnection, audience: Audience) -> None:
    insert(con, "load_day", [row("load_day", player_id="p1", on_date=LAST_ON)])
    con.execute("update player set groups = 'U16; <north> ; U18 (from 2099-01-01)' where player_id = 'p1'").fetchall()
    con.execute("update player set groups = 'U16; old (until 2020-01-01)' where player_id = 'p2'").fetchall()
    assert options(choice(con, audience)) == {"&lt;north&gt;": "p1", "U16": "p1 p2"}


def test_there_is_none_where_nobody_is_in_a_group_and_none_for_players(con: duckdb.DuckDBPyConnection) -> None:
    assert choice(con, "coach") == ""
    con.execute("update player set groups = 'U16'").fetchall()
    assert choice(con, "player") == choice(con, "data") == ""
