"""The choice of a group: who stands in it, for whom it is made, and that pages of an academy without groups lack it."""

from __future__ import annotations

import datetime as dt
import re
from typing import TYPE_CHECKING

import polars as pl
import pytest

from reports.pages import data as data_page
from reports.pages import programme as programme_page
from reports.pages import squad as squad_page
from reports.pages import today as today_page
from reports.pages.context import page_context
from reports.pages.frame import Surroundings, framed
from reports.pages.groups import group_choice, leads_by_group
from reports.shared_files import shared_names
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


def test_the_first_sentence_of_a_page_is_there_for_each_group_alone(con: duckdb.DuckDBPyConnection) -> None:
    insert(con, "load_day", [row("load_day", player_id="p1", on_date=LAST_ON)])
    con.execute("update player set groups = 'U16' where player_id = 'p1'").fetchall()
    con.execute("update player set groups = 'U16; north' where player_id = 'p2'").fetchall()
    marts = Marts(con, "coach")
    assert leads_by_group(marts, lambda ids: ",".join(sorted(ids))) == {"north": "p2", "U16": "p1,p2"}
    context = page_context(academy(), "coach", LAST_ON)
    (squad,) = squad_page.pages(marts, context)
    assert (squad.lead[:2], squad.group_leads["U16"][:2], squad.group_leads["north"][:2]) == ("2 ", "2 ", "1 ")
    around = Surroundings((), shared_names(context))
    framed_page = framed(squad, context, around, day=LAST_ON, groups=group_choice(marts, context))
    assert framed_page.count('<p class="lead"') == 3
    assert '<p class="lead" data-group="north" hidden>' in framed_page
    assert framed(squad, context, around, day=LAST_ON).count('<p class="lead"') == 1


def _of_groups(body: str, question: str) -> dict[str, str]:
    """The answers of a section: of everybody (empty), and of each group."""
    found = re.search(rf"<h2>{re.escape(question)}</h2>(.*?)</section>", body, re.DOTALL)
    assert found, body
    return dict(re.findall(r'<p class="answer" data-group="([^"]*)"(?: hidden)?>(.*?)</p>', found[1]))


def test_first_sentences_of_sections_are_there_for_each_group_alone(
    con: duckdb.DuckDBPyConnection, monkeypatch: pytest.MonkeyPatch
) -> None:
    insert(con, "load_day", [row("load_day", player_id="p1", on_date=LAST_ON)])
    con.execute("update player set groups = 'U16' where player_id = 'p1'").fetchall()
    con.execute("update player set groups = 'north' where player_id = 'p2'").fetchall()
    insert(con, "phase", [row("phase", player_id="p1", phase="build", speed_change_mps=None, n_weeks=4)])
    marts = Marts(con, "coach")
    context = page_context(academy(), "coach", LAST_ON)
    (programme,) = programme_page.pages(marts, context)
    assert programme.group_leads["U16"] == programme.lead
    assert programme.group_leads["north"] == context.words("programme.lead_none")
    told = _of_groups(programme.body, "build")
    assert told[""] == told["U16"]
    assert told["north"] == "Nobody of this group had the phase build."
    (data,) = data_page.pages(marts, context)
    assert re.search(r'data-kind="coverage".*?"of":', data.body, re.DOTALL)  # the picture follows the choice
    covered = _of_groups(data.body, context.words("data.coverage"))
    assert [text.split(".")[0] for text in (covered[""], covered["U16"])] == ["Players shown: 2", "Players shown: 1"]
    monkeypatch.setattr(data_page, "MOST_PLAYERS", 1)
    (data,) = data_page.pages(marts, context)
    covered = _of_groups(data.body, context.words("data.coverage"))
    assert "One more, with fewer empty weeks, is not shown." in covered[""]
    assert sorted(covered[name].split(".")[0] for name in ("U16", "north")) == ["Players shown: 0", "Players shown: 1"]
    con.execute("update player set left_on = '2020-01-01' where player_id = 'p2'").fetchall()
    (today,) = today_page.pages(marts, context)
    assert _of_groups(today.body, context.words("today.missing")) == {"north": context.words("today.nothing_missing_of_group")}


@pytest.mark.parametrize("weekday", range(7))
def test_of_the_last_26_weeks_there_are_26_on_every_day_of_the_week(con: duckdb.DuckDBPyConnection, weekday: int) -> None:
    as_of = LAST_ON + dt.timedelta(days=1 + weekday)
    begun = [dt.datetime.combine(as_of - dt.timedelta(days=back), dt.time(9)) for back in range(7 * 30)]
    insert(con, "session", [row("session", session_id=f"s{n}", player_id="p1", started_at=at) for n, at in enumerate(begun)])
    order, weeks = data_page._here(Marts(con, "coach"), page_context(academy(), "coach", as_of))
    assert order.filter(pl.col("player_id") == "p1")["n_weeks"].item() == data_page.WEEKS
    assert weeks["week_on"].n_unique() == data_page.WEEKS


def test_who_has_left_is_not_counted_beside_the_group(con: duckdb.DuckDBPyConnection) -> None:
    """ "Squad 10 (4)" stood above "3 players"."""
    insert(con, "load_day", [row("load_day", player_id="p1", on_date=LAST_ON)])
    con.execute("update player set groups = 'U16', left_on = null").fetchall()
    before = re.findall(r"U16 \((\d+)\)", choice(con, "coach"))
    con.execute("update player set left_on = ? where player_id = 'p1'", [LAST_ON]).fetchall()
    after = re.findall(r"U16 \((\d+)\)", choice(con, "coach"))
    assert int(before[0]) - int(after[0]) == 1
