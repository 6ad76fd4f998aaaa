"""The desk under attack: every address as every other role, forged and repeated forms, guessing, size, time, paths, script."""

from __future__ import annotations

import shutil
import socket
import time
from contextlib import ExitStack
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from pipelines.desk import shield
from pipelines.desk.keys import ATTEMPTS_ADDRESS, ATTEMPTS_NAME, LINKED, STAFF
from pipelines.desk.routes import ENTRIES, Entry
from pipelines.workspace import Workspace
from reports.tokens import player_token
from tests.flow.desk_visitor import come_in, fields, opened_desk, served_desk, visitor

if TYPE_CHECKING:
    from collections.abc import Iterator

    from httpx import Client

    from pipelines.desk.visit import Desk

MORNING = datetime(2026, 1, 13, 7, tzinfo=UTC)
ROLES = (*STAFF, *LINKED)
SCRIPT = "\"><script>alert(1)</script><img src=x onerror=alert(1)>'`{{7*7}}${7*7}"


@pytest.fixture(scope="module")
def desk(rendered: object, tmp_path_factory: pytest.TempPathFactory) -> Desk:
    place = tmp_path_factory.mktemp("attacked") / "academy"
    shutil.copytree(str(rendered), place)
    return opened_desk(Workspace(place), lambda: MORNING)


@pytest.fixture(scope="module")
def visitors(desk: Desk) -> Iterator[dict[str, Client]]:
    with ExitStack() as stack:
        port = stack.enter_context(served_desk(desk))
        found = {role: stack.enter_context(come_in(desk, port, role, "heron" if role in LINKED else role)) for role in ROLES}
        yield {**found, "nobody": stack.enter_context(come_in(desk, port))}


def path_of(entry: Entry) -> str:
    known = {
        "{player_id}": "heron",
        "{role}": "player",
        "{path:path}": "index.html",
        "{token}": "a" * 26,
        "{trial_id}": "t",
        "{day}": "1",
        "{file_id}": "0" * 64,
    }
    path = entry.path
    for name, value in known.items():
        path = path.replace(name, value)
    return path.replace("{language}", "de").replace("{name}", "x.css")


def inbox(desk: Desk) -> list[str]:
    return sorted(str(path.relative_to(desk.workspace.inbox)) for path in desk.workspace.inbox.rglob("*"))


GUARDED = [entry for entry in ENTRIES if entry.roles]
STRANGERS = [(entry, role) for entry in GUARDED for role in (*ROLES, "nobody") if role not in entry.roles]


@pytest.mark.parametrize(
    ("entry", "role"), STRANGERS, ids=lambda item: item if isinstance(item, str) else f"{item.method}{item.path}"
)
def test_nobody_else_is_answered(desk: Desk, visitors: dict[str, Client], entry: Entry, role: str) -> None:
    client, before = visitors[role], inbox(desk)
    token = {} if role == "nobody" else fields(client.get("/").text, "/leave")
    answer = client.request(entry.method, path_of(entry), data=token if entry.method == "POST" else None, follow_redirects=False)
    if role == "nobody" and entry.method == "GET":
        assert (answer.status_code, answer.headers["location"]) == (303, "/enter")
    else:
        assert answer.status_code == (401 if role == "nobody" else 403)
    assert inbox(desk) == before


POSTS = [entry for entry in GUARDED if entry.method == "POST" and entry.path != "/leave"]


@pytest.mark.parametrize("entry", POSTS, ids=lambda entry: entry.path)
@pytest.mark.parametrize(
    "forged", ["no token", "wrong token", "another visit's token", "foreign origin", "hidden origin", "cross site"]
)
def test_a_form_that_was_not_on_our_page_is_refused(desk: Desk, visitors: dict[str, Client], entry: Entry, forged: str) -> None:
    client, before = visitors[entry.roles[0]], inbox(desk)
    other = visitors[next(role for role in ROLES if role != entry.roles[0])]
    own = fields(client.get("/").text, "/leave")["csrf"]
    tokens = {"no token": "", "wrong token": "0" * 64, "another visit's token": fields(other.get("/").text, "/leave")["csrf"]}
    headers = {
        "foreign origin": {"origin": "http://evil.example"},
        "hidden origin": {"origin": "null"},
        "cross site": {"sec-fetch-site": "cross-site"},
    }
    form = {"csrf": tokens.get(forged, own), "form_id": "0" * 32, "day": "2026-01-13", "fatigue": "3", "agrees": "no"}
    answer = client.post(path_of(entry), data=form, headers=headers.get(forged, {}), follow_redirects=False)
    assert answer.status_code == 403
    assert inbox(desk) == before


def test_another_players_pages_and_links_are_closed(desk: Desk, visitors: dict[str, Client]) -> None:
    site_key = desk.workspace.site_key()
    for role in LINKED:
        assert visitors[role].get(f"/room/{player_token('heron', site_key)}/index.html").status_code == 200
        assert visitors[role].get(f"/room/{player_token('wren', site_key)}/index.html").status_code == 404
        assert visitors[role].get("/room/../coach/index.html").status_code == 404
    assert visitors["coach"].get("/room/review.html").status_code == 404
    assert visitors["physio"].get("/room/review.html").status_code == 200


def test_a_player_hands_in_for_nobody_else(desk: Desk, visitors: dict[str, Client]) -> None:
    page = visitors["player"].get("/score").text
    form = {**fields(page, "/score"), "day": "2026-01-12", "strokes": "70", "player_id": "wren", "played_on": "2020-01-01"}
    visitors["player"].post("/score", data=form)
    (file,) = desk.workspace.inbox.glob("rounds_*_desk-*")
    assert file.read_text(encoding="utf-8").splitlines()[1].startswith("heron,2026-01-12")
    file.unlink()


PATHS = [
    *("..%2f..%2facademy.toml", "../../academy.toml", "%2e%2e/%2e%2e/academy.toml", "..\\..\\academy.toml", "/etc/passwd"),
    *("index.html%00.css", "players/../../physio/index.html", "....//academy.toml", "assets/../../pages.json", ".site-key"),
    *("pages.json", "index.html/", "%252e%252e/academy.toml", "link.html", "a" * 5000, "C:%5cwindows"),
]  # fmt: skip


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path[:20])
@pytest.mark.parametrize("role", ["coach", "player"])
def test_no_path_leads_out_of_a_room(desk: Desk, visitors: dict[str, Client], path: str, role: str) -> None:
    link = desk.workspace.site / "coach" / "link.html"
    if not link.is_symlink():
        link.symlink_to(desk.workspace.settings)
    answer = visitors[role].get(f"/room/{path}")
    assert answer.status_code == 404
    assert "time_zone" not in answer.text


NAMES = [
    "../../evil.csv",
    "/etc/cron.d/evil",
    "..\\evil.csv",
    ".hidden.csv",
    "a" * 400 + ".csv",
    "shots\n.csv",
    SCRIPT + ".csv",
    "...",
]


@pytest.mark.parametrize("name", NAMES, ids=range(len(NAMES)))
def test_no_file_name_leads_out_of_the_tray(desk: Desk, visitors: dict[str, Client], name: str) -> None:
    data = visitors["data"]
    form = fields(data.get("/drop").text, "/drop")
    outside = {path for path in desk.workspace.root.rglob("*") if ".desk" not in path.parts}
    answer = data.post("/drop", data=form, files=[("files", (name, b"player_id,alias\nx,<script>alert(2)</script>\n"))])
    assert answer.status_code in {200, 422}
    assert "<script>alert" not in answer.text
    assert {path for path in desk.workspace.root.rglob("*") if ".desk" not in path.parts} == outside


FILE_IDS = ["..%2f..%2facademy.toml", "%2e%2e", "0" * 64, "G" * 64, "0" * 63, "a" * 5000, "%00" * 64, "native"]


@pytest.mark.parametrize("file_id", FILE_IDS, ids=lambda file_id: file_id[:20])
def test_no_address_of_a_mapping_opens_another_file(desk: Desk, visitors: dict[str, Client], file_id: str) -> None:
    if file_id == "native":  # a file of our own form, which was loaded
        file_id = next(row["file_id"] for row in desk.view_file.read().rows["files"] if row["status"] == "loaded")
    before = inbox(desk)
    answer = visitors["data"].get(f"/mapping/{file_id}")
    assert answer.status_code == 404
    assert "time_zone" not in answer.text
    form = {**fields(visitors["data"].get("/drop").text, "/drop"), "do": "hand_in", "name": "../../evil"}
    assert visitors["data"].post(f"/mapping/{file_id}", data=form).status_code == 404
    assert inbox(desk) == before


FIELDS = [
    ("/checkin", {"fatigue": "3", "note": SCRIPT}, 200),
    ("/checkin", {"fatigue": SCRIPT}, 422),
    ("/checkin", {"fatigue": "11"}, 422),
    ("/checkin", {"fatigue": "-1"}, 422),
    ("/checkin", {"fatigue": "1e9"}, 422),
    ("/checkin", {"fatigue": "nan"}, 422),
    ("/checkin", {"sleep_h": "99"}, 422),
    ("/checkin", {"fatigue": "3", "day": SCRIPT}, 422),
    ("/checkin", {"fatigue": "3", "day": "9999-12-31"}, 422),
    ("/checkin", {"fatigue": "3", "note": "x" * 3000}, 422),
    ("/checkin", {"fatigue": "3", "form_id": "../../x"}, 422),
    ("/problems", {"region_1": SCRIPT, "participation_1": "1"}, 422),
    ("/problems", {"region_1": "neck", "participation_1": "9"}, 422),
    ("/problems", {"region_1": "neck", "participation_1": "1", "onset_1": SCRIPT}, 422),
    ("/score", {"day": "2026-01-12", "strokes": SCRIPT}, 422),
    ("/score", {"day": "2026-01-12", "strokes": "0"}, 422),
    ("/score", {"day": "2026-01-12", "strokes": "70.5"}, 422),
]


@pytest.mark.parametrize(("path", "answers", "status"), FIELDS, ids=range(len(FIELDS)))
def test_no_field_carries_anything_but_what_it_asks_for(
    desk: Desk, visitors: dict[str, Client], path: str, answers: dict[str, str], status: int
) -> None:
    client, before = visitors["player"], inbox(desk)
    answer = client.post(path, data={**fields(client.get(path).text, path), **answers})
    assert answer.status_code == status
    assert "<script>alert" not in answer.text
    assert (inbox(desk) == before) == (status != 200)


@pytest.mark.parametrize("start", ["=", "+", "-", "@"])
def test_what_a_spreadsheet_would_compute_stays_text_of_a_note(visitors: dict[str, Client], desk: Desk, start: str) -> None:
    client = visitors["player"]
    answer = client.post(
        "/checkin", data={**fields(client.get("/checkin").text, "/checkin"), "fatigue": "3", "note": f"{start}1+1,\n2"}
    )
    assert answer.status_code == 200
    newest = max(desk.workspace.inbox.glob("checkins_*_desk-*"), key=lambda path: path.stat().st_mtime_ns)
    assert newest.read_text(encoding="utf-8").count("heron") == 1


def test_guessing_a_passphrase_ends_after_a_few_attempts(desk: Desk) -> None:
    desk.keys.add_key("guessed", "coach", "four-words-of-mine", MORNING)
    with visitor(desk) as client:
        codes = [
            client.post("/enter", data={"name": "guessed", "passphrase": f"guess {n}"}).status_code for n in range(ATTEMPTS_NAME)
        ]
        assert codes == [401] * ATTEMPTS_NAME
        assert client.post("/enter", data={"name": "guessed", "passphrase": "four-words-of-mine"}).status_code == 429
    _forget_attempts(desk)


def test_guessing_names_and_links_ends_too(desk: Desk) -> None:
    with visitor(desk) as client:
        codes = [client.get(f"/p/{n:026d}").status_code for n in range(ATTEMPTS_ADDRESS + 1)]
        assert codes == [404] * ATTEMPTS_ADDRESS + [429]
        assert client.post("/enter", data={"name": "x", "passphrase": "y"}).status_code == 429
    _forget_attempts(desk)


def _forget_attempts(desk: Desk) -> None:
    desk.keys._note_attempt(MORNING + timedelta(days=1), "nothing")  # a day later they are forgotten


@pytest.mark.parametrize("cookie", ["", "x", "a.b", "a" * 5000, "' or 1=1 --", "b..c"])
def test_a_made_up_cookie_opens_nothing(desk: Desk, cookie: str) -> None:
    with visitor(desk) as client:
        answer = client.get("/", headers={"cookie": f"desk={cookie}"}, follow_redirects=False)
        assert answer.headers["location"] == "/enter"


@pytest.mark.parametrize("host", ["evil.example", "evil.example:8016", "localhost.evil.example", "", "127.0.0.1.evil.example"])
def test_a_name_that_is_not_ours_is_refused(desk: Desk, host: str) -> None:
    with visitor(desk) as client:
        assert client.get("/enter", headers={"host": host}).status_code in {400, 421}


def test_a_body_beyond_the_limit_is_refused_however_its_size_is_told(desk: Desk, visitors: dict[str, Client]) -> None:
    before = inbox(desk)
    much = b"csrf=x&note=" + b"x" * shield.FORM_BYTES
    kind = {"content-type": "application/x-www-form-urlencoded"}
    assert visitors["player"].post("/checkin", content=much, headers=kind).status_code == 413
    assert visitors["player"].post("/checkin", content=iter([much[:1000], much]), headers=kind).status_code == 413
    assert visitors["player"].post("/checkin", content=b"{}", headers={"content-type": "application/json"}).status_code == 415
    many = "&".join(f"f{n}=1" for n in range(1000))
    assert visitors["player"].post("/checkin", content=many, headers=kind).status_code == 400
    assert visitors["data"].post(f"/mapping/{'0' * 64}", content=much, headers=kind).status_code == 413
    many = "&".join(f"take-{n}=1" for n in range(4001))
    assert visitors["data"].post(f"/mapping/{'0' * 64}", content=many, headers=kind).status_code == 400
    assert inbox(desk) == before


def test_a_form_carries_no_file_where_none_is_asked_for(visitors: dict[str, Client]) -> None:
    assert visitors["player"].post("/checkin", files=[("files", ("a.csv", b"x"))]).status_code == 400


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_no_other_method_is_answered(visitors: dict[str, Client], method: str) -> None:
    assert visitors["coach"].request(method, "/findings").status_code == 405


@pytest.mark.parametrize("path", ["/", "/enter", "/room/index.html", "/nothing", "/assets/x.css", "/p/x"])
def test_every_answer_carries_the_headers(visitors: dict[str, Client], path: str) -> None:
    headers = visitors["coach"].get(path).headers
    for name, value in shield.HEADERS:
        assert headers[name.decode()] == value.decode()
    assert "server" not in headers
    assert "cache-control" in headers


def test_the_cookie_is_for_this_desk_alone_and_no_script_reads_it(desk: Desk) -> None:
    with visitor(desk) as client:
        link = desk.keys.personal_link("heron", "player", MORNING)
        answer = client.get(f"/p/{link}", follow_redirects=False)
        assert answer.headers["set-cookie"].lower().count("httponly") == 1
        assert "samesite=lax" in answer.headers["set-cookie"].lower()
    secure = opened_desk(desk.workspace, lambda: MORNING)
    object.__setattr__(secure, "secure", True)
    with visitor(secure) as client:
        answer = client.get(f"/p/{link}", follow_redirects=False)
        assert "secure" in answer.headers["set-cookie"].lower()
        assert answer.headers["strict-transport-security"] == "max-age=31536000"


def test_no_secret_lies_in_the_desks_file(desk: Desk) -> None:
    desk.keys.add_key("kept", "coach", "four-words-of-mine", MORNING)
    link = desk.keys.personal_link("heron", "player", MORNING)
    stored = b"".join(path.read_bytes() for path in desk.workspace.desk.glob("keys.sqlite*"))
    assert b"four-words-of-mine" not in stored
    assert link.encode() not in stored
    assert b"$argon2id$" in stored


@pytest.fixture
def served(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    """The desk behind its real server, with little patience."""
    monkeypatch.setattr(shield, "HEAD_S", 0.4)
    monkeypatch.setattr(shield, "BODY_S", 0.6)
    with served_desk(desk) as port:
        yield port


def _heard(port: int, *parts: bytes, pause_s: float = 0.2) -> bytes:
    with socket.create_connection(("127.0.0.1", port), timeout=5) as line:
        heard = b""
        try:
            for part in parts:
                line.sendall(part)
                time.sleep(pause_s)
            while piece := line.recv(65536):
                heard += piece
        except ConnectionError:
            return heard or b"closed"
        return heard or b"closed"


def test_a_head_that_trickles_in_is_cut_off(served: int) -> None:
    assert _heard(served, b"GET /enter HTTP/1.1\r\n", b"Host: localhost\r\n", b"X-A: b\r\n", b"X-B: c\r\n", b"\r\n") == b"closed"
    assert _heard(served) == b"closed"
    assert b"200 OK" in _heard(served, b"GET /enter HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n", pause_s=0)


def test_a_body_that_trickles_in_is_refused(served: int, visitors: dict[str, Client]) -> None:
    cookie = visitors["player"].cookies["desk"]
    head = (
        f"POST /checkin HTTP/1.1\r\nHost: localhost\r\nCookie: desk={cookie}\r\nContent-Length: 900\r\n"
        "Content-Type: application/x-www-form-urlencoded\r\n\r\n"
    )
    assert b" 408 " in _heard(served, head.encode(), b"a=")


@pytest.mark.parametrize("junk", [b"\x16\x03\x01\x02\x00", b"GET / HTTP/9.9\r\n\r\n", b"GET /" + b"a" * 70000, b"\r\n" * 50])
def test_junk_on_the_line_harms_nothing(served: int, junk: bytes) -> None:
    assert b"200 OK" not in _heard(served, junk, pause_s=0)
    assert b"200 OK" in _heard(served, b"GET /enter HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n", pause_s=0)
