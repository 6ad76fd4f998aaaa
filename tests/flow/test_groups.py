"""Groups from the files to the desk: a coach who is limited to one sees and decides nothing about anybody else."""

from __future__ import annotations

import re
import shutil
from contextlib import ExitStack
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from pipelines.desk.routes import ENTRIES
from pipelines.runs import Night, erase_and_rerun, run_night
from pipelines.stages.doctor import examine
from pipelines.stages.player_export import export_player
from pipelines.stages.rebuild import rebuild
from pipelines.workspace import Workspace
from schemas.errors import UsageError
from tests.flow.conftest import NIGHT, refused, typed
from tests.flow.desk_visitor import fields, opened_desk, served_desk
from warehouse.connection import frame, open_warehouse

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from httpx import Client

    from pipelines.desk.visit import Desk

MORNING = datetime(2026, 1, 13, 7, tzinfo=UTC)
GROUPS = """player_id,alias,groups,course
heron,"Heron, the tall one",Elite; north,Links
wren,Wren,U16; north (until 2025-12-31),nowhere
stork,Stork,U16 (from 2026-01-08),
"""
PLANS = """group_name,week_starting,phase,swings_full
U16,2026-01-05,group block,300
U16,2026-01-12,group block,310
Nobody,2026-01-05,lost,10
"""
SETTINGS = """
[[courses]]
name = "Links"
[[courses.tee_shots]]
length_yd = 400
fairway_yd = 40
left = { water_from_yd = 50 }
"""
FOUR_WORDS = "four-words-of-mine"
OTHERS = ("heron", "Heron")


@pytest.fixture(scope="module")
def grouped(rendered: Path, tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    """The three players in groups, a coach limited to the young ones, and the night after."""
    place = tmp_path_factory.mktemp("grouped") / "academy"
    shutil.copytree(rendered, place)
    made = Workspace(place)
    settings = made.settings.read_text(encoding="utf-8").replace("[day_without_row]", '[day_without_row]\n"U16" = "off"')
    made.settings.write_text(settings + SETTINGS, encoding="utf-8")
    (made.inbox / "players_groups.csv").write_text(GROUPS, encoding="utf-8")
    (made.inbox / "plans_groups.csv").write_text(PLANS, encoding="utf-8")
    desk = opened_desk(made, lambda: MORNING)
    desk.keys.add_key("ann", "coach", FOUR_WORDS, MORNING, ("U16",))
    desk.keys.add_key("bea", "coach", FOUR_WORDS, MORNING)
    run_night(Night(made, NIGHT))
    return made


def rows(workspace: Workspace, sql: str) -> list[tuple[object, ...]]:
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        return frame(con, sql).rows()


def test_a_group_of_today_and_a_plan_of_that_week(grouped: Workspace) -> None:
    assert rows(grouped, "select * from group_member order by all") == [
        ("heron", "Elite"), ("heron", "north"), ("stork", "U16"), ("wren", "U16"),
    ]  # fmt: skip
    plans = "select player_id, cast(week_starting as varchar), phase, swings_full from player_plan order by all"
    assert rows(grouped, plans) == [
        ("heron", "2026-01-05", "speed block", 120),
        ("stork", "2026-01-05", "group block", 300),  # in the group from that Thursday on
        ("stork", "2026-01-12", "group block", 310),
        ("wren", "2026-01-05", "base", 100),  # the own plan stands before the group's
        ("wren", "2026-01-12", "group block", 310),
    ]  # fmt: skip
    planned = "select player_id, planned_swings_full from plan_week order by 1"
    assert rows(grouped, planned) == [("heron", 120), ("stork", 300), ("wren", 100)]
    assert ("stork", "group block") in rows(grouped, "select player_id, phase from phase")


def test_each_player_has_the_own_home_course_and_who_names_an_unknown_one_the_academys(grouped: Workspace) -> None:
    assert rows(grouped, "select player_id, course, asked from home_course order by 1") == [
        ("heron", "Links", "Links"), ("stork", "tree-lined", None), ("wren", "tree-lined", "nowhere"),
    ]  # fmt: skip


def test_a_day_without_a_row_is_off_for_the_players_of_one_group(grouped: Workspace) -> None:
    assert rows(grouped, "select distinct player_id from load_day where is_assumed_off order by 1") == [("stork",), ("wren",)]


def test_the_doctor_says_what_nobody_is_meant_by(grouped: Workspace) -> None:
    found = {finding.about: finding for finding in examine(grouped)}["groups"]
    assert found.state == "look"
    assert "nowhere (wren)" in found.says
    assert "Nobody" in found.says


def test_a_files_without_the_columns_changes_no_group(grouped: Workspace, tmp_path: Path) -> None:
    shutil.copytree(grouped.root, tmp_path / "later")
    later = Workspace(tmp_path / "later")
    (later.inbox / "players_later.csv").write_text("player_id,alias\nwren,Little Wren\n", encoding="utf-8")
    run_night(Night(later, NIGHT))
    assert rows(later, "select alias, groups, course from player where player_id = 'wren'") == [
        ("Little Wren", "U16; north (until 2025-12-31)", "nowhere")
    ]
    rooms = {path.name for path in (later.site / "groups").iterdir()}
    opened_desk(later, lambda: MORNING).keys.add_key("cleo", "coach", FOUR_WORDS, MORNING, ("Elite",))
    run_night(Night(later, NIGHT))  # nothing has changed but a key: it has its room
    assert len({path.name for path in (later.site / "groups").iterdir()} - rooms) == 1


def test_a_person_takes_groups_home_course_and_the_plans_of_groups_along(grouped: Workspace, tmp_path: Path) -> None:
    export_player(grouped, "stork", tmp_path / "stork", MORNING)
    told = {path.stem: path.read_text(encoding="utf-8") for path in (tmp_path / "stork").glob("*.csv")}
    assert "U16 (from 2026-01-08)" in told["player"]
    assert "tree-lined" in told["home_course"]
    assert [line.split(",")[:4] for line in told["group_plan"].splitlines()[1:]] == [
        ["2026-01-05", "U16", "group block", "300"], ["2026-01-12", "U16", "group block", "310"],
    ]  # fmt: skip


def test_who_is_erased_is_in_no_group_no_room_and_no_form_and_a_rebuild_brings_the_groups_back(
    grouped: Workspace, tmp_path: Path
) -> None:
    shutil.copytree(grouped.root, tmp_path / "erased")
    erased = Workspace(tmp_path / "erased")
    erase_and_rerun(Night(erased, MORNING), "stork")
    room = erased.site / "groups"
    assert [
        path for path in room.rglob("*") if path.is_file() and "stork" in (str(path) + path.read_text(encoding="utf-8")).lower()
    ] == []
    assert rows(erased, "select distinct player_id from group_member order by 1") == [("heron",), ("wren",)]
    assert "stork" not in (erased.desk / "view.json").read_text(encoding="utf-8").lower()
    before = rows(erased, "select * from player_plan order by all"), rows(erased, "select * from home_course order by all")
    rebuild(erased, MORNING)
    run_night(Night(erased, MORNING))
    after = rows(erased, "select * from player_plan order by all"), rows(erased, "select * from home_course order by all")
    assert after == before


# a key that is limited to a group


@dataclass(frozen=True)
class Coaches:
    """Two coaches who have come in: Ann, limited to U16, and Bea."""

    desk: Desk
    ann: Client
    bea: Client


@pytest.fixture(scope="module")
def coaches(grouped: Workspace) -> Iterator[Coaches]:
    import httpx  # noqa: PLC0415

    desk = opened_desk(grouped, lambda: MORNING)
    with ExitStack() as stack:
        port = stack.enter_context(served_desk(desk))
        clients = []
        for name in ("ann", "bea"):
            client = stack.enter_context(
                httpx.Client(base_url=f"http://127.0.0.1:{port}", follow_redirects=True, timeout=20, trust_env=False)
            )
            assert client.post("/enter", data={"name": name, "passphrase": FOUR_WORDS}).status_code == 200
            clients.append(client)
        yield Coaches(desk, *clients)


def of_others(text: str) -> list[str]:
    return [name for name in OTHERS if name in text]


def test_the_room_of_a_limited_coach_holds_nobody_else(coaches: Coaches) -> None:
    site = coaches.desk.workspace.site
    rooms = [path for path in (site / "groups").iterdir() if path.is_dir()]
    assert len(rooms) == 1
    files = [path for path in rooms[0].rglob("*") if path.is_file()]
    told = [path for path in files if path.suffix == ".html"]
    assert {"index.html", "squad.html", "data.html", "wren.html", "stork.html"} <= {path.name for path in told}
    assert [(path.name, of_others(str(path) + path.read_text(encoding="utf-8"))) for path in files if "assets" not in path.parts
            if of_others(str(path.relative_to(rooms[0])) + path.read_text(encoding="utf-8"))] == []  # fmt: skip
    assert of_others((site / "coach" / "squad.html").read_text(encoding="utf-8"))


def test_no_page_of_others_is_reached_by_a_limited_key(coaches: Coaches) -> None:
    site, ann = coaches.desk.workspace.site, coaches.ann
    assert "Wren" in ann.get("/room/squad.html").text
    for path in sorted((site / "coach").rglob("*.html")):
        answer = ann.get(f"/room/{path.relative_to(site / 'coach').as_posix()}")
        assert answer.status_code in {200, 404}
        assert of_others(answer.text) == []
    for path in ("players/heron.html", "../coach/squad.html", "..%2f..%2fcoach/squad.html", "%2e%2e/%2e%2e/coach/squad.html"):
        assert ann.get(f"/room/{path}").status_code == 404
    assert coaches.bea.get("/room/players/heron.html").status_code == 200


GETS = [entry.path for entry in ENTRIES if entry.method == "GET" and "coach" in entry.roles]
POSTS = [entry.path for entry in ENTRIES if entry.method == "POST" and "coach" in entry.roles and entry.path != "/leave"]


def planned_for_heron(coaches: Coaches) -> str:
    """A trial of a player whom Ann must not see, planned and declared by Bea."""
    folder = coaches.desk.workspace.root / "sheets"
    if not list(folder.glob("heron-*.csv")):
        form = fields(coaches.bea.get("/sheets").text, "/sheets")
        answers = {"player_id": "heron", "question": "wider", "arms": "normal, wider", "shots": "10", "began_on": "2026-01-13"}
        assert coaches.bea.post("/sheets", data={**form, **answers}).status_code == 200
        run_night(Night(coaches.desk.workspace, MORNING))
    return next(iter(folder.glob("heron-*.csv"))).stem


def plant_findings(desk: Desk) -> None:
    """An open finding about Heron, and one about Wren."""
    empty = dict.fromkeys(("low", "high", "decision", "decided_until", "alerted_on", "closed_on"))
    words = {"metric": "", "region": "", "club_group": "", "device_id": "", "kind": "load_jump", "level": "alert"}
    shared = {**empty, **words, "raised_on": "2026-01-12", "value": 80.0, "baseline": 30.0, "n": 5, "reasons": []}
    desk.view_file.read().rows["flags"]["coach"] = [
        {"flag_id": "aaaa1111", "player_id": "heron", "alias": "Heron", **shared},
        {"flag_id": "bbbb2222", "player_id": "wren", "alias": "Wren", **shared},
    ]


def addressed(path: str, trial_id: str) -> str:
    values = {"{path:path}": "players/heron.html", "{trial_id}": trial_id, "{day}": "1", "{player_id}": "heron"}
    for name, value in values.items():
        path = path.replace(name, value)
    return path


@pytest.mark.parametrize("path", GETS)
def test_no_address_shows_a_limited_coach_anybody_else(coaches: Coaches, path: str) -> None:
    trial_id = planned_for_heron(coaches)
    plant_findings(coaches.desk)
    answer = coaches.ann.get(addressed(path, trial_id))
    assert answer.status_code in {200, 404}
    assert of_others(answer.text) == []


@pytest.mark.parametrize("path", POSTS)
def test_no_form_takes_anything_about_anybody_else_from_a_limited_coach(coaches: Coaches, path: str) -> None:
    trial_id, desk = planned_for_heron(coaches), coaches.desk
    plant_findings(desk)
    before = sorted(desk.workspace.inbox.rglob("*")), sorted((desk.workspace.root / "sheets").rglob("*"))
    token = fields(coaches.ann.get("/").text, "/leave")
    for who in ("player:heron", "group:Elite"):
        form = {
            **token, "form_id": "f" * 32, "flag_id": "aaaa1111", "decision": "watch", "player_id": "heron", "who": who,
            "question": "wider stance", "arms": "normal, wider", "began_on": "2026-01-13", "what": "struck", "sheet_no": "1",
            "session": "h-0105", "on": "2026-01-05", "week_starting": "2026-01-12", "group_name": "Elite", "swings_full": "10",
            "ended_on": "2026-01-13", "rule": "sheet",
        }  # fmt: skip
        answer = coaches.ann.post(addressed(path, trial_id), data=form)
        assert answer.status_code in {404, 422}
        assert of_others(answer.text) == []
    assert (sorted(desk.workspace.inbox.rglob("*")), sorted((desk.workspace.root / "sheets").rglob("*"))) == before
    assert not list((desk.workspace.desk / "sheets").rglob("*heron*"))


def test_a_limited_coach_plans_for_the_own_players_and_sees_that_it_waits(coaches: Coaches) -> None:
    form = fields(coaches.ann.get("/sheets").text, "/sheets")
    answers = {"player_id": "wren", "question": "softer grip", "arms": "normal, softer", "shots": "10", "began_on": "2026-01-13"}
    assert coaches.ann.post("/sheets", data={**form, **answers}).status_code == 200
    assert "wren-20260113" in coaches.ann.get("/sheets").text
    assert coaches.ann.get("/sheets/wren-20260113/print").status_code == 200


def test_a_week_is_planned_for_a_group_and_by_a_limited_coach_for_the_own_one_only(coaches: Coaches) -> None:
    page = coaches.ann.get("/plans").text
    assert ('value="group:U16"' in page, 'value="group:north"' in page, "group block" in page) == (True, False, True)
    assert 'value="group:north"' in coaches.bea.get("/plans").text
    form = {**fields(page, "/plans"), "who": "group:U16", "week_starting": "2026-01-22", "phase": "base", "swings_full": "250"}
    answer = coaches.ann.post("/plans", data=form)
    assert "U16, week from 19 Jan 2026" in answer.text
    (file,) = coaches.desk.workspace.inbox.glob("plans_*_desk-*")
    assert file.read_text(encoding="utf-8").splitlines()[1] == "2026-01-19,,U16,base,250,,"
    file.unlink()
    refused_ones = {"who": "group:Elite"}, {"who": "player:heron"}, {"who": "group:north"}, {"who": ""}
    for change in refused_ones:
        again = {**fields(coaches.ann.get("/plans").text, "/plans"), "week_starting": "2026-01-22", "phase": "base", **change}
        assert coaches.ann.post("/plans", data=again).status_code == 404
    for change in ({"week_starting": "2031-01-01"}, {"week_starting": "soon"}, {"phase": ""}, {"swings_full": "ten"}):
        again = {
            **fields(coaches.ann.get("/plans").text, "/plans"),
            "who": "group:U16",
            "week_starting": "2026-01-22",
            "phase": "b",
        }
        assert coaches.ann.post("/plans", data={**again, **change}).status_code == 422
    assert not list(coaches.desk.workspace.inbox.glob("plans_*"))


def test_findings_are_listed_for_one_group_without_a_script(coaches: Coaches) -> None:
    plant_findings(coaches.desk)

    def listed(client: Client, asked: str) -> set[str]:
        return set(re.findall('id="flag-([^"]+)"', client.get(f"/findings{asked}").text))

    assert listed(coaches.bea, "") == listed(coaches.bea, "?group=U61") == {"aaaa1111", "bbbb2222"}
    assert listed(coaches.bea, "?group=Elite") == {"aaaa1111"}
    assert listed(coaches.bea, "?group=U16") == {"bbbb2222"}
    assert listed(coaches.ann, "") == listed(coaches.ann, "?group=Elite") == {"bbbb2222"}
    form = {**fields(coaches.bea.get("/findings?group=U16").text, "/findings"), "decision": "watch"}
    assert coaches.bea.post("/findings", data=form).url.query == b"done=decided&group=U16"
    for file in coaches.desk.workspace.inbox.glob("decisions_*"):
        file.unlink()


def test_only_a_coach_is_limited_and_only_to_a_group_with_members(grouped: Workspace, capsys: pytest.CaptureFixture[str]) -> None:
    desk = opened_desk(grouped, lambda: MORNING)
    with pytest.raises(UsageError, match="Only a coach"):
        desk.keys.add_key("carl", "physio", FOUR_WORDS, MORNING, ("U16",))
    with pytest.raises(UsageError, match="Only a coach"):
        desk.keys.add_key("carl", "coach", FOUR_WORDS, MORNING, ())
    code, line = refused(capsys, "key", "add", "carl", "--role", "coach", "--group", "U61", "-w", grouped.root)
    assert (code, "U61" in line, "U16" in line) == (2, True, True)
    code, out, _ = typed(capsys, "key", "list", "-w", grouped.root)
    assert (code, "U16" in out) == (0, True)


def test_a_file_of_keys_of_before_is_read_on(grouped: Workspace, tmp_path: Path) -> None:
    import sqlite3  # noqa: PLC0415

    shutil.copytree(grouped.desk, tmp_path / ".desk")
    (tmp_path / ".desk" / "keys.sqlite").unlink()
    with sqlite3.connect(tmp_path / ".desk" / "keys.sqlite") as con:
        con.execute("create table staff_key (name text primary key, role text, hash text, made_at text)")
        con.execute("insert into staff_key values ('old', 'coach', 'x', 'then')")
    from pipelines.desk.keys import Keys  # noqa: PLC0415

    found = Keys(tmp_path / ".desk").keys()
    assert [(key.name, key.groups) for key in found] == [("old", None)]


# pages to send


def test_pages_of_one_group_hold_nobody_else(grouped: Workspace, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for reader in ("coach", "physio", "player"):
        folder = tmp_path / reader
        words = ("export", "page", "--all", "--audience", reader, folder, "--group", "U16", "-w", grouped.root)
        assert typed(capsys, *words)[0] == 0
        pages = list(folder.rglob("*.html"))
        assert pages
        assert [page for page in pages if of_others(str(page.relative_to(folder)) + page.read_text(encoding="utf-8"))] == []
    file = tmp_path / "squad.html"
    assert typed(capsys, "export", "page", "squad.html", "--single", file, "--group", "Elite", "-w", grouped.root)[0] == 0
    text = file.read_text(encoding="utf-8")
    assert ("Heron" in text, "Wren" in text) == (True, False)


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("players/wren.html", "--single", "x.html"), 10, "--player is missing. Say which player: add --player wren"),
        (("index.html", "--audience", "player", "--single", "x.html"), 10, "--player is missing"),
        (("squad.html",), 2, "--single FILE is missing"),
        (("--single", "x.html"), 2, "PAGE is missing"),
        ((), 2, "PAGE and --single FILE are missing"),
        (("--all",), 2, "DIR is missing"),
        (("pages", "--all", "--player", "wren"), 2, "--all and --player ID do not go together"),
        (("pages", "--all", "--single", "x.html"), 2, "--all and --single FILE do not go together"),
        (("squad.html", "--single", "x.html", "--group", "U61"), 10, "in the group U61. Groups with members: Elite, north, U16"),
    ],
)
def test_what_is_missing_is_said(
    grouped: Workspace, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], code: int, says: str
) -> None:
    told = refused(capsys, "export", "page", *words, "-w", grouped.root)
    assert told[0] == code
    assert says in told[1]
