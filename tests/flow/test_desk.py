"""What people hand in at the desk becomes native files that the next intake loads, once."""

from __future__ import annotations

import json
import os
import re
import shutil
import time
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from pipelines.runs import Night, run_night, take_in_waiting
from pipelines.stages.audit_log import logged
from pipelines.stages.player_erasure import erase_player
from pipelines.workspace import Workspace
from tests.flow.desk_visitor import fields, opened_desk, send, visitor
from warehouse.connection import frame, open_warehouse

if TYPE_CHECKING:
    from pathlib import Path

    import polars as pl

    from pipelines.desk.visit import Desk

MORNING = datetime(2026, 1, 13, 7, tzinfo=UTC)


@pytest.fixture(scope="module")
def prepared(rendered: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A workspace with a session that lacks an effort."""
    place = tmp_path_factory.mktemp("prepared") / "academy"
    shutil.copytree(rendered, place)
    found = Workspace(place)
    (found.inbox / "sessions_tuesday.csv").write_text(
        "session_id,player_id,started_at,kind,swings_full\nh-0112,heron,2026-01-12 17:30,range,40\n", encoding="utf-8"
    )
    take_in_waiting(Night(found, MORNING - timedelta(minutes=5)))
    return place


@pytest.fixture
def desk(prepared: Path, tmp_path: Path) -> Desk:
    shutil.copytree(prepared, tmp_path / "academy")
    return opened_desk(Workspace(tmp_path / "academy"), lambda: MORNING)


def taken_in(desk: Desk, query: str) -> pl.DataFrame:
    outcome = take_in_waiting(Night(desk.workspace, MORNING + timedelta(minutes=5)))
    assert [file.reason for file in outcome.files if file.status == "held" and "_desk-" in file.name] == []
    with open_warehouse(desk.workspace.warehouse, read_only=True) as con:
        return frame(con, query)


def files(desk: Desk) -> list[Path]:
    return sorted(desk.workspace.inbox.glob("*_desk-*"))


@pytest.mark.parametrize("language", ["en", "de"])
def test_a_check_in_of_half_a_minute_reaches_the_warehouse(desk: Desk, language: str) -> None:
    with visitor(desk, "player", "heron") as heron:
        heron.get(f"/language/{language}")
        answer = send(heron, "/checkin", "/checkin", fatigue="4", sleep_h="7,5", stiff_lower_back="3", note="tight; fine later")
        assert answer.url.params["done"] == "checkin"
        assert {"en": "Thank you", "de": "Danke"}[language] in answer.text
    rows = taken_in(desk, "select * from checkin where date = '2026-01-13'").to_dicts()
    assert [(row["player_id"], row["fatigue"], row["sleep_h"], row["stiff_lower_back"]) for row in rows] == [("heron", 4, 7.5, 3)]
    assert rows[0]["soreness"] is None
    assert rows[0]["note"] == "tight; fine later"


def test_nothing_to_report_says_so_of_what_is_usually_asked_and_of_nothing_else(desk: Desk) -> None:
    with visitor(desk, "player", "heron") as heron:
        send(heron, "/checkin", "/checkin", nothing="1")
    row = taken_in(desk, "select * from checkin where date = '2026-01-13'").row(0, named=True)
    assert (row["fatigue"], row["soreness"], row["stiff_lower_back"]) == (0, 0, 0)
    assert (row["stress"], row["sleep_h"], row["stiff_neck"]) == (None, None, None)


def test_an_empty_check_in_is_no_answer(desk: Desk) -> None:
    with visitor(desk, "player", "heron") as heron:
        assert send(heron, "/checkin", "/checkin").status_code == 422
    assert files(desk) == []


def test_the_same_form_twice_is_one_file_and_what_was_handed_in_last_stands(desk: Desk) -> None:
    with visitor(desk, "player", "heron") as heron:
        form = {**fields(heron.get("/checkin").text, "/checkin"), "fatigue": "4"}
        for _ in range(3):
            assert heron.post("/checkin", data=form).status_code == 200
        assert len(files(desk)) == 1
        for fatigue, n_files in (("7", 2), ("7", 2), ("4", 3), ("4", 3), ("7", 4), ("4", 5)):
            heron.post("/checkin", data={**form, "fatigue": fatigue})
            assert len(files(desk)) == n_files
            time.sleep(0.02)  # the intake goes by the clock of the disk
    taken = taken_in(desk, "select fatigue from checkin where date = '2026-01-13'")
    assert taken["fatigue"].to_list() == [4], "answers went to and fro, and were these in the end"


def test_an_effort_keeps_everything_else_of_its_session(desk: Desk) -> None:
    with visitor(desk, "player", "heron") as heron:
        assert "/effort" in heron.get("/").text
        send(heron, "/effort", "/effort", effort="6")
        assert "/effort" not in heron.get("/").text
    row = taken_in(desk, "select * from session where session_id = 'h-0112'").row(0, named=True)
    assert (row["effort"], row["swings_full"], row["kind"]) == (6, 40, "range")
    assert row["started_at"] == datetime(2026, 1, 12, 16, 30, tzinfo=UTC).replace(tzinfo=None)  # 17:30 in Berlin


def test_a_day_off_is_a_row(desk: Desk) -> None:
    with visitor(desk, "player", "wren") as wren:
        send(wren, "/", "/rest")
        assert "disabled" in wren.get("/").text
    days = taken_in(desk, "select on_date, kind from session_day where player_id = 'wren' and kind = 'rest'")
    assert days.rows() == [(date(2026, 1, 13), "rest")]


def test_the_weekly_form_says_nothing_or_names_places(desk: Desk) -> None:
    with visitor(desk, "player", "heron") as heron, visitor(desk, "player", "wren") as wren:
        send(heron, "/problems", "/problems", nothing="1")
        places = {"region_1": "lower_back", "participation_1": "1", "modified_1": "2", "performance_1": "0", "symptoms_1": "1"}
        send(wren, "/problems", "/problems", **places, region_2="lead_wrist", participation_2="0", onset_2="gradual")
    rows = taken_in(desk, "select * from problem_report where week_ending = '2026-01-11' order by player_id, region")
    told = rows.select("player_id", "region", "participation", "modified", "onset").rows()
    assert ("heron", "other", 0, None, None) in told
    assert ("wren", "lead_wrist", 0, None, "gradual") in told
    assert ("wren", "lower_back", 1, 2, None) in told


def test_a_score_card_reaches_the_warehouse(desk: Desk) -> None:
    with visitor(desk, "player", "heron") as heron:
        where = {"course": "Links", "event": "Winter Cup", "event_round": "2"}
        card = {"day": "2026-01-11", "holes": "18", "strokes": "71", "tee_shots": "14", "fairways": "9", **where}
        assert send(heron, "/score", "/score", **card).url.query
        assert send(heron, "/score", "/score", **{**card, "event_round": "0"}).status_code == 422
        refused = send(heron, "/score", "/score", day="2026-01-10", strokes="71", tee_shots="9", fairways="14")
        assert refused.status_code == 422
        assert "fairways at most tee_shots" in refused.text
    rows = taken_in(desk, "select strokes, fairways, penalties, course, event, event_round from round where player_id = 'heron'")
    assert rows.rows() == [(71, 9, None, "Links", "Winter Cup", 2)]


def test_a_minor_ends_consent_and_only_the_guardian_gives_it(desk: Desk) -> None:
    with visitor(desk, "player", "wren") as wren, visitor(desk, "guardian", "wren") as guardian:
        page = wren.get("/consent").text
        wren.post("/consent", data={**fields(page, "/consent"), "agrees": "no"})
        assert wren.get("/checkin").url.path == "/consent"
        token = fields(wren.get("/").text, "/rest")
        assert wren.post("/consent", data={**token, "agrees": "yes"}).status_code == 403
        assert wren.post("/checkin", data={**token, "day": "2026-01-13", "fatigue": "3"}).status_code == 403
        agreed = taken_in(desk, "select alias, health_consent, standard from player where player_id = 'wren'").row(0)
        assert agreed == ("Wren", False, "90")
        object.__setattr__(desk, "clock", lambda: MORNING + timedelta(minutes=10))
        send(guardian, "/consent", "/consent", agrees="yes")
        assert wren.get("/checkin").url.path == "/checkin"
    assert taken_in(desk, "select health_consent from player where player_id = 'wren'").row(0) == (True,)


@pytest.mark.parametrize(
    ("language", "told"),
    [
        ("de", "getroffene Fairways: höchstens so viele fairways wie tee_shots."),
        ("en", "fairways hit: fairways at most tee_shots."),
    ],
)
def test_a_refused_card_is_told_by_its_field_and_not_as_a_file(desk: Desk, language: str, told: str) -> None:
    with visitor(desk, "player", "heron") as heron:
        heron.get(f"/language/{language}")
        page = send(heron, "/score", "/score", day="2026-01-11", strokes="71", tee_shots="9", fairways="14").text
    assert told in page
    assert {"de": "Geh zurück", "en": "Go back"}[language] in page
    assert "half of the rows" not in page
    assert "Hälfte der Zeilen" not in page


def test_too_many_files_at_once_are_refused_with_what_to_do(desk: Desk) -> None:
    with visitor(desk, "data") as data:
        form = fields(data.get("/drop").text, "/drop")
        answer = data.post("/drop", data=form, files=[("files", (f"shots_{n}.csv", b"x")) for n in range(51)])
        assert answer.status_code == 400
        assert "at most 50 files at once" in answer.text
        assert "This was not done" in answer.text


def test_consent_says_nothing_of_what_a_players_file_says_meanwhile(desk: Desk) -> None:
    """What the desk shows is of the last intake; the file that somebody drops beside it is newer."""
    waiting = desk.workspace.inbox / "players_moved.csv"
    waiting.write_text("player_id,alias,groups,standard\nheron,Heron,U21,scratch\n", encoding="utf-8")
    os.utime(waiting, ((MORNING - timedelta(minutes=2)).timestamp(),) * 2)
    with visitor(desk, "player", "heron") as heron:
        send(heron, "/consent", "/consent", agrees="no")
    rows = taken_in(desk, "select groups, standard, health_consent from player where player_id = 'heron'")
    assert rows.row(0) == ("U21", "scratch", False)


def test_a_link_that_was_renewed_opens_nothing_and_ends_who_was_in(desk: Desk) -> None:
    with visitor(desk, "player", "heron") as heron:
        old = desk.keys.personal_link("heron", "player", MORNING)
        new = desk.keys.renew_link("heron", "player", MORNING)
        assert heron.get("/").url.path == "/enter"
        assert heron.get(f"/p/{old}").status_code == 404
        assert heron.get(f"/p/{new}").url.path == "/"


def test_a_key_comes_in_by_passphrase_until_it_is_taken_away(desk: Desk) -> None:
    desk.keys.add_key("anna", "coach", "four-words-of-mine", MORNING)
    with visitor(desk) as anna:
        assert anna.post("/enter", data={"name": "anna", "passphrase": "something else"}).status_code == 401
        assert anna.post("/enter", data={"name": "anna", "passphrase": "four-words-of-mine"}).url.path == "/"
        desk.keys.remove_key("anna")
        assert anna.get("/").url.path == "/enter"


def test_a_session_ends_by_itself(finished: Workspace) -> None:
    now = [MORNING]
    desk = opened_desk(finished, lambda: now[0])
    with visitor(desk, "coach") as coach:
        now[0] += timedelta(hours=7)
        assert coach.get("/").url.path == "/"
        now[0] += timedelta(hours=2)
        assert coach.get("/").url.path == "/enter"


def test_leaving_ends_the_visit(desk: Desk) -> None:
    with visitor(desk, "coach") as coach:
        cookie = coach.cookies["desk"]
        send(coach, "/", "/leave")
        assert coach.get("/", headers={"cookie": f"desk={cookie}"}).url.path == "/enter"


def test_answers_kept_on_a_phone_are_handed_in_days_later_for_their_own_day(desk: Desk) -> None:
    with visitor(desk, "player", "heron") as heron:
        form = {**fields(heron.get("/checkin").text, "/checkin"), "day": "2026-01-10", "fatigue": "2"}
        assert heron.post("/checkin", data=form).status_code == 200
        assert heron.post("/checkin", data={**form, "day": "2025-12-24"}).status_code == 422
        heron.get("/language/de")
        refused = heron.post("/checkin", data={**form, "form_id": "a" * 32, "fatigue": "99"})
        assert (refused.status_code, "Wie müde bist du? 0 bis 10. Messwert und Maßeinheit prüfen." in refused.text) == (422, True)
    assert taken_in(desk, "select fatigue from checkin where date = '2026-01-10'").rows() == [(2,)]


def test_files_are_read_at_once_and_accepted_or_undone(desk: Desk) -> None:
    with visitor(desk, "data") as data:
        form = fields(data.get("/drop").text, "/drop")
        good = b"player_id,alias\nstork,Stork\n"
        bad = b"player_id,date,fatigue\nheron,2026-01-12,99\nnobody,2026-01-12,3\n"
        shown = data.post("/drop", data=form, files=[("files", ("players_new.csv", good)), ("files", ("checkins_1.csv", bad))])
        assert shown.url.params["drop"] == form["form_id"]
        assert "0 to 10" in shown.text
        assert list(desk.workspace.inbox.rglob("*.csv")) == []
        data.get("/language/de")
        german = data.get(f"/drop?drop={form['form_id']}").text
        assert "0 bis 10" in german
        assert "Messwert und Maßeinheit prüfen." in german
        assert "Check the reading" not in german
        keys = re.findall(r'name="take" value="([0-9a-f]+)"', german)
        data.post("/drop/accept", data={"csrf": form["csrf"], "drop_id": form["form_id"], "take": keys})
        assert sorted(path.name for path in desk.workspace.inbox.iterdir()) == ["checkins_1.csv", "players_new.csv"]
        data.post("/drop/undo", data={"csrf": form["csrf"], "waiting": "checkins_1.csv"})
        assert [path.name for path in desk.workspace.inbox.iterdir()] == ["players_new.csv"]
        assert [path.name for path in (desk.workspace.desk / "undone").rglob("*.csv")] == ["checkins_1.csv"]
    (desk.workspace.inbox / "players_short.csv").write_text("alias\nStork\n", encoding="utf-8")
    assert taken_in(desk, "select alias from player where player_id = 'stork'").rows() == [("Stork",)]
    with visitor(desk, "data") as data:
        data.get("/language/de")
        assert "<strong>players_short.csv</strong>: Spalte fehlt" in data.get("/drop").text


def test_files_are_read_while_a_night_holds_the_warehouse(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    from pipelines.desk import visit  # noqa: PLC0415
    from schemas.errors import WarehouseBusyError  # noqa: PLC0415

    def busy(*_: object, **__: object) -> None:
        raise WarehouseBusyError("Another process holds it.")

    monkeypatch.setattr(visit, "open_warehouse", busy)
    with visitor(desk, "data") as data:
        form = fields(data.get("/drop").text, "/drop")
        shown = data.post("/drop", data=form, files=[("files", ("players_new.csv", b"player_id,alias\nstork,Stork\n"))])
        assert "A night is running" in shown.text
        assert "Would be loaded" in shown.text


def test_a_decision_is_what_the_command_would_have_written(desk: Desk) -> None:
    row = {
        "flag_id": "abcd1234", "player_id": "heron", "alias": "Heron", "kind": "load_jump", "level": "alert",
        "raised_on": "2026-01-12",
        "metric": "", "region": "", "club_group": "", "device_id": "", "value": 80.0, "baseline": 30.0, "low": None, "high": None,
        "n": 5, "reasons": [], "decision": None, "decided_until": None, "alerted_on": None, "closed_on": None,
    }  # fmt: skip
    good = row | {"flag_id": "good0001", "kind": "strokes_better", "metric": "strokes", "value": -2.0, "baseline": None}
    slow = row | {"flag_id": "slow0001", "kind": "load_flat", "level": "notice"}
    desk.view_file.read().rows["flags"]["coach"] = [good, slow, row]
    with visitor(desk, "coach") as coach:
        shown = coach.get("/findings")
        assert re.findall(r'<li id="flag-(\w+)"', shown.text) == ["abcd1234", "slow0001", "good0001"]  # what asks most first
        assert re.findall(r'class="mark (\w+)"', shown.text) == ["alert", "notice", "good"]
        assert "2 findings wait" in shown.text  # good news waits for nobody
        assert "Not decided yet" in shown.text
        send(coach, "/findings", "/findings", decision="ease", until="2026-01-20", note="talked")
        assert "Decided today" in coach.get("/findings").text
        assert coach.post("/findings", data={**fields(shown.text, "/findings"), "decision": "cure"}).status_code == 422
    rows = taken_in(desk, "select flag_id, role, decision, until, note, player_id, flag_kind from decision").rows()
    assert rows == [("abcd1234", "coach", "ease", date(2026, 1, 20), "talked", "heron", "load_jump")]


def test_a_personal_link_is_printed_with_a_code_to_scan(desk: Desk) -> None:
    with visitor(desk, "data") as data:
        page = data.get("/links/heron/player").text
        address = re.search(r"http://127\.0\.0\.1:\d+/p/([a-z2-7]{26})", page)
        assert address
        assert 'src="data:image/svg+xml' in page
        data.post("/links/heron/player", data={"csrf": fields(page, "/leave")["csrf"]})
        assert address[0] not in data.get("/links/heron/player").text
        assert re.findall(r">\d{4}-\d\d-\d\d<", data.get("/links").text) == [], "days are written as the language does"


def test_a_night_and_an_intake_leave_what_the_forms_show(finished: Workspace) -> None:
    run_night(Night(finished, MORNING))
    rows = opened_desk(finished, lambda: MORNING).view_file.read().rows
    assert set(rows["players"]) >= {"heron", "wren"}
    assert rows["usual"]["heron"][:2] == ["fatigue", "soreness"]
    assert (finished.desk / "view.json").stat().st_mode & 0o077 == 0


def test_a_fault_of_the_program_leaves_a_line_in_the_log(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object) -> None:
        raise ArithmeticError("heron")

    monkeypatch.setattr("pipelines.desk.drop.waiting_names", broken)
    with visitor(desk, "data") as data:
        assert data.get("/drop").status_code == 500
        assert data.get("/links").status_code == 200
    told = logged(desk.workspace)[-1].what
    assert told.startswith("desk fault at /drop: ArithmeticError in test_desk.py line ")
    assert "heron" not in told


def test_an_erased_player_is_forgotten_at_the_desk(desk: Desk) -> None:
    with visitor(desk, "player", "heron") as heron:
        send(heron, "/", "/rest")
        taken_in(desk, "select 1 as one")
        erase_player(desk.workspace, "heron", MORNING)
        assert heron.get("/").url.path == "/enter"
    kept = b"".join(path.read_bytes() for path in desk.workspace.desk.rglob("*") if path.is_file())
    assert desk.keys.lately("heron", MORNING - timedelta(days=1)) == []
    assert b"Heron" not in kept


@pytest.mark.parametrize("language", ["en", "de"])
def test_a_form_says_which_day_or_number_cannot_be(desk: Desk, language: str) -> None:
    """The desk stands on 13 January 2026."""
    with visitor(desk, "player", "heron") as heron, visitor(desk, "coach") as coach:
        for who in (heron, coach):
            who.get(f"/language/{language}")
        for day in ("2026-01-15", "2026-01-05", "2027-01-01", "soon"):
            told = send(heron, "/score", "/score", day=day, strokes="80")
            assert told.status_code == 422
            assert {"en": "from 6 January 2026 to 13 January 2026", "de": "von 6. Januar 2026 bis 13. Januar 2026"}[
                language
            ] in told.text.replace("\u202f", " ").replace("\xa0", " ")
        told = send(heron, "/score", "/score", day="2026-01-12", strokes="80", penalties="x")
        assert {"en": "Penalty strokes from the tee: write a number", "de": "bitte eine Zahl in Ziffern"}[language] in told.text
        told = send(heron, "/checkin", "/checkin", sleep_h="seven")
        assert {"en": "Hours slept: write a number", "de": "bitte eine Zahl in Ziffern"}[language] in told.text
        told = send(heron, "/checkin", "/checkin", sleep_h="99")
        assert {"en": "Hours slept: 0 to 24", "de": "Stunden geschlafen: 0 bis 24"}[language] in told.text.replace("\u202f", " ")
        week = {"who": "player:heron", "week_starting": "2029-01-01", "minutes": "90"}
        told = send(coach, "/plans", "/plans", **week)
        assert {"en": "A plan is for a week from", "de": "Ein Plan gilt für eine Woche von"}[language] in told.text, told.text
    assert files(desk) == []


def test_on_a_shared_device_the_entrance_shows_who_is_in(desk: Desk) -> None:
    """Its form would be refused, however often it is opened again: it carries nothing of the open visit."""
    with visitor(desk, "player", "heron") as heron:
        shown = heron.get("/enter")
        assert shown.url.path == "/"
        assert 'action="/leave"' in shown.text
        heron.post("/leave", data=fields(shown.text, "/leave"))
        assert 'name="passphrase"' in heron.get("/enter").text


def test_the_start_says_of_when_it_is_in_the_academys_time(desk: Desk) -> None:
    """As every other time at the desk; Berlin is an hour ahead of UTC in January."""
    with visitor(desk, "coach") as coach:
        shown = " ".join(coach.get("/").text.replace("\u202f", " ").replace("\xa0", " ").split())
    view = json.loads((desk.workspace.desk / "view.json").read_text())
    at = datetime.fromisoformat(view["written_at"]) + timedelta(hours=1)
    assert f"What is listed here is as of {at.day} January 2026, {at:%H:%M}." in shown
