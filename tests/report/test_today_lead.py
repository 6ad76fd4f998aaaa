"""The first sentence of Today, and its line on what waits: good news is counted apart, and what waits has no name."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from reports.findings.today import messages
from reports.pages import data as data_page
from reports.pages import squad as squad_page
from reports.pages import today as today_page
from reports.pages.context import page_context
from reports.pages.today import _lead, message_item
from tests.report.conftest import LAST_ON, academy, build, flags, insert, row
from warehouse.marts import Marts

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

import polars as pl

CONTEXT = page_context(academy(), "coach", LAST_ON)


def flag(player: str, kind: str, level: str) -> dict[str, Any]:
    return flags()[0] | {"flag_id": player, "player_id": player, "kind": kind, "level": level, "alias": player, "decision": None}


@pytest.mark.parametrize(
    ("told", "says"),
    [
        ([], "Nobody needs a look on 15 March 2026: no flag for the coach is open."),
        ([("speed_fall", "alert")], "One player needs a look on 15 March 2026."),
        (
            [("speed_fall", "alert"), ("quiet", "notice"), ("load_flat", "notice")],
            "One player needs a look on 15 March 2026; 2 more wait as notices.",
        ),
        ([("speed_rise", "alert")], "Nobody needs a look on 15 March 2026. Good news about one player."),
        (
            [("speed_fall", "alert"), ("speed_rise", "alert"), ("scatter_fall", "alert"), ("quiet", "notice")],
            "One player needs a look on 15 March 2026; one more waits as a notice. Good news about 2 players.",
        ),
        (
            [("quiet", "notice"), ("strokes_better", "alert"), ("scatter_fall", "notice")],
            "No alert on 15 March 2026; 2 notices wait. Good news about one player.",
        ),
    ],
)
def test_good_news_is_not_counted_among_those_who_need_a_look(told: list[tuple[str, str]], says: str) -> None:
    rows = [flag(f"p{number}", kind, level) for number, (kind, level) in enumerate(told)]
    frame = pl.DataFrame(rows) if rows else pl.DataFrame(flags()).clear()
    assert _lead(messages(frame, body_first=False), CONTEXT) == says


def test_what_waits_is_said_in_numbers_only(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    secret = row("file", file_id="c" * 64, name="checkins_lark_spine.csv", kind="checkins", n_rows=1, status="held")
    insert(con, "file", [secret | {"received_at": dt.datetime(2026, 3, 15, 6, 0)}])  # noqa: DTZ001 - instants are UTC without a zone
    built = build(con, tmp_path / "site")
    waits = "one file is held and one problem in a row waits"
    said = f"Of what came, body reports apart, {waits}: a task for whoever looks after the data."
    for audience in ("coach", "physio"):
        text = built.text(f"{audience}/index.html")
        assert said in re.sub(r"\s+", " ", text)
        assert "spine" not in text


def test_a_notice_that_leads_does_not_hide_an_alert_of_the_same_player() -> None:
    rows = [flag("p1", "overuse_pattern", "notice"), flag("p1", "load_jump", "alert") | {"flag_id": "p1b", "value": 9.0}]
    found = messages(pl.DataFrame(rows), body_first=True)
    assert (found[0].lead["kind"], found[0].mark) == ("overuse_pattern", "alert")
    assert _lead(found, CONTEXT) == "One player needs a look on 15 March 2026."
    item = message_item(found[0], page_context(academy(), "physio", LAST_ON))
    assert "Also open: load jump (alert)." in item
    assert 'class="mark alert"' in item or ">Alert<" in item


def test_what_else_is_open_of_other_clubs_names_them() -> None:
    """The drives cost more, and beside them stood "scatter down", which was of the irons."""
    others = [flag("p1", "scatter_fall", "notice") | {"flag_id": "p1b", "club_group": "iron", "metric": "scatter_side_m"}]
    found = messages(
        pl.DataFrame([flag("p1", "strokes_worse", "alert") | {"value": 1.5, "club_group": "driver"}, *others]), body_first=False
    )
    assert "Also open: left-right scatter down with the irons." in message_item(found[0], CONTEXT)


def test_who_only_answers_is_missing_with_shots(con: duckdb.DuckDBPyConnection) -> None:
    """Everybody was said to have sent shots when the others had, and one had answered without a session."""
    later = LAST_ON + dt.timedelta(days=60)
    insert(con, "load_day", [row("load_day", player_id="p1", on_date=later)])
    con.execute("update player set health_consent = true where player_id = 'p2'").fetchall()
    insert(con, "checkin", [row("checkin", player_id="p2", date=later)])
    (today,) = today_page.pages(Marts(con, "coach"), CONTEXT)
    missing = today.body.split(CONTEXT.words("today.missing"))[1]
    assert re.search(rf"{CONTEXT.words('today.no_shots_from')}.*p2", missing)


def test_before_anything_has_come_no_page_says_until_when_data_reach(
    con: duckdb.DuckDBPyConnection, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With players alone, or with all files held, data were said to reach until today."""
    context = replace(CONTEXT, last_files_on=LAST_ON)
    assert "Data until" in today_page._freshness(Marts(con, "coach"), context)
    for table in ("session", "checkin"):
        con.execute(f"delete from {table}").fetchall()
    marts = Marts(con, "coach")
    assert today_page._freshness(marts, context).startswith('<p class="quiet-note">No session and no answer has come yet; files')
    monkeypatch.setattr(squad_page, "speed_lines", lambda *_: {"p1": [44.0, None]})
    (data,), (squad,) = data_page.pages(marts, context), squad_page.pages(marts, context)
    assert context.words("data.coverage_nothing") in data.body
    assert "all on one scale of" not in squad.body


def test_where_notices_stand_among_alerts_the_page_says_in_which_order(con: duckdb.DuckDBPyConnection) -> None:
    told = "In the order of what they cost or ask for; an alert is surer than a notice."
    (today,) = today_page.pages(Marts(con, "coach"), CONTEXT)
    assert told in today.body
    con.execute("delete from flag where level = 'notice'").fetchall()
    (today,) = today_page.pages(Marts(con, "coach"), CONTEXT)
    assert told not in today.body


def test_who_is_back_after_a_break_is_said_beside_the_finding(con: duckdb.DuckDBPyConnection) -> None:
    """Slower after thirteen months away, the list asked about sleep and said nothing of the months."""
    (before,) = today_page.pages(Marts(con, "coach"), CONTEXT)
    assert "without a known session" not in before.body
    ((player,),) = con.execute("select player_id from flag where closed_on is null and player_id <> '' limit 1").fetchall()
    since = LAST_ON - dt.timedelta(days=20)
    gone = {"player_id": player, "since_on": since, "until_on": since - dt.timedelta(days=61), "cause": "break"}
    insert(con, "session_since", [row("session_since", **gone)])
    (today,) = today_page.pages(Marts(con, "coach"), CONTEXT)
    assert "Back since 23 February 2026, after 60 days without a known session." in today.body


def test_of_who_cannot_train_the_last_session_is_said(con: duckdb.DuckDBPyConnection) -> None:
    """An absence that nobody has ended stood beside sessions of the same week."""
    con.execute("delete from availability").fetchall()
    insert(con, "availability", [row("availability", player_id="p1", state="not_available")])
    (last,) = con.execute("select last_session_on from mart_squad where player_id = 'p1'").fetchall()[0]
    (today,) = today_page.pages(Marts(con, "coach"), CONTEXT)
    assert f"(not now; last session on {CONTEXT.words.day(last)})" in today.body


def test_one_story_is_told_once_and_waits_once_it_is_decided() -> None:
    """ "The speed gained costs 2.2" and "the drives cost 2.2 more": which led hung on the ids, and the other stood below it."""
    both = {"value": 2.2, "baseline": None, "club_group": "driver", "course": None}
    cost, worse = flag("p1", "speed_cost", "alert") | both, flag("p1", "strokes_worse", "alert") | both | {"flag_id": "p0"}
    (found,) = messages(pl.DataFrame([worse, cost]), body_first=False)
    assert (found.lead["kind"], found.others, found.mark) == ("speed_cost", (), "alert")
    assert "Also open" not in message_item(found, CONTEXT)
    decided = {"decision": "watch", "decided_until": None}
    (waits,) = messages(pl.DataFrame([worse, cost | decided], infer_schema_length=None), body_first=False)
    assert (waits.lead["kind"], waits.weight) == ("speed_cost", pytest.approx(2.2 * 0.3))
    (surer,) = messages(pl.DataFrame([worse, cost | {"level": "notice"}]), body_first=False)
    assert (surer.lead["kind"], surer.mark, surer.weight) == ("speed_cost", "alert", pytest.approx(2.2))
    (irons,) = messages(pl.DataFrame([worse, cost | {"club_group": "iron"}]), body_first=False)
    assert [row["kind"] for row in irons.others] == ["strokes_worse"]


def test_no_alert_is_folded_away() -> None:
    """Thirteen dear notices put an alert about load below the fold."""
    notices = [flag(f"n{number}", "speed_cost", "notice") | {"value": 3.0, "baseline": None} for number in range(14)]
    found = messages(
        pl.DataFrame([*notices, flag("quiet one", "load_flat", "alert")], infer_schema_length=None), body_first=False
    )
    assert found[-1].mark == "alert"
    shown, _, folded = today_page.bulletin(found, CONTEXT, {}).partition("<details")
    assert ("quiet one" in shown, "quiet one" in folded) == (True, False)
    assert (shown.count("<li>"), folded.count("<li>")) == (13, 2)


@pytest.mark.parametrize(
    ("states", "says"),
    [
        (["under_decision"], "Nobody needs a look on 15 March 2026. For one player it is decided what to do."),
        (["date_passed"], "One player needs a look on 15 March 2026."),
        (["grown", "under_decision"], "One player needs a look on 15 March 2026. For one player it is decided what to do."),
    ],
)
def test_what_is_decided_asks_for_no_look_until_its_day_has_passed(states: list[str], says: str) -> None:
    """A coach who had decided every flag read that four players need a look, and what to settle with them."""
    rows = [
        flag(f"p{number}", "speed_fall", "alert") | {"decision": "watch", "decided_until": None, "decision_state": state}
        for number, state in enumerate(states)
    ]
    found = messages(pl.DataFrame(rows, infer_schema_length=None), body_first=False)
    assert _lead(found, CONTEXT) == says
    for message in found:
        assert ('class="todo"' in message_item(message, CONTEXT)) == (message.lead["decision_state"] != "under_decision")
    assert "watch, grown since" in message_item(found[0], CONTEXT) or states[0] != "grown"
