"""The desk under a full academy: 500 players hand in within a minute while a night runs, and while it is killed 50 times."""

from __future__ import annotations

import contextlib
import os
import signal
import subprocess
import sys
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

import httpx
import numpy as np
import pytest

from pipelines.runs import Night, take_in_waiting
from pipelines.settings import default_settings
from pipelines.workspace import create_workspace
from tests.flow.desk_visitor import opened_desk
from warehouse.connection import open_warehouse, scalar

if TYPE_CHECKING:
    from pathlib import Path

    from pipelines.workspace import Workspace

pytestmark = pytest.mark.benchmark

N_PLAYERS, SECONDS = 500, 60
N_KILLS = 50
BARE = """
import sys, uvicorn
from starlette.applications import Starlette
from starlette.responses import PlainTextResponse
from starlette.routing import Route
async def answer(request):
    await request.form()
    return PlainTextResponse("thanks")
app = Starlette(routes=[Route("/checkin", answer, methods=["POST"])])
uvicorn.run(app, port=int(sys.argv[1]), log_level="critical", access_log=False)
"""


def _port() -> int:
    import socket  # noqa: PLC0415

    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return int(free.getsockname()[1])


def _academy(folder: Path) -> Workspace:
    made = create_workspace(folder, default_settings("Five hundred", "Europe/Berlin"))
    rows = "".join(f"p{n:03d},Player {n},2000,true\n" for n in range(N_PLAYERS))
    (made.inbox / "players_all.csv").write_text("player_id,alias,birth_year,health_consent\n" + rows, encoding="utf-8")
    take_in_waiting(Night(made, datetime.now(UTC)))
    return made


def _answers(port: int, path: str) -> bool:
    try:
        return httpx.get(f"http://127.0.0.1:{port}{path}", timeout=1, trust_env=False).status_code < 500
    except httpx.HTTPError:
        return False


def _started(arguments: list[str], port: int, path: str) -> subprocess.Popen[bytes]:
    child = subprocess.Popen(arguments, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    until = time.monotonic() + 40
    while not _answers(port, path) and time.monotonic() < until:
        time.sleep(0.02)
    return child


def _desk(workspace: Workspace, port: int) -> subprocess.Popen[bytes]:
    return _started(_command("desk", "-w", str(workspace.root), "--port", str(port)), port, "/enter")


def _command(*words: str) -> list[str]:
    return [sys.executable, "-c", "from pipelines.cli.main import run; run()", *words]


def _csrf_of(client: httpx.Client, link: str) -> str:
    page = client.get(f"/p/{link}").text
    return page.split('name="csrf" value="')[1].split('"')[0]


def _shown(name: str, times: list[float]) -> str:
    ordered = sorted(times)
    median, late = (ordered[int(len(ordered) * share)] * 1e3 for share in (0.5, 0.99))
    return f"{name}: median {median:.1f} ms, 99th percentile {late:.1f} ms, n = {len(ordered)}"


def test_five_hundred_players_within_a_minute_while_a_night_runs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    workspace = _academy(tmp_path / "academy")
    desk = opened_desk(workspace, lambda: datetime.now(UTC))
    links = [desk.keys.personal_link(f"p{n:03d}", "player", datetime.now(UTC)) for n in range(N_PLAYERS)]
    port, bare_port = _port(), _port()
    service = _desk(workspace, port)
    bare = _started([sys.executable, "-c", BARE, str(bare_port)], bare_port, "/")
    today = desk.today().isoformat()
    lock, times, bare_times, codes, night_codes = threading.Lock(), [], [], [], list[int]()
    ended = threading.Event()

    def one(n: int) -> None:
        time.sleep(max(0.0, first_at + n * SECONDS / N_PLAYERS - time.monotonic()))
        with httpx.Client(base_url=f"http://127.0.0.1:{port}", timeout=30, trust_env=False, follow_redirects=True) as client:
            csrf = _csrf_of(client, links[n])
            form = {"csrf": csrf, "form_id": f"{n:032x}", "day": today, "fatigue": str(n % 11), "stiff_lower_back": "1"}
            began = time.perf_counter()
            code = client.post("/checkin", data=form, follow_redirects=False).status_code
            took = time.perf_counter() - began
            began = time.perf_counter()
            httpx.post(f"http://127.0.0.1:{bare_port}/checkin", data=form, trust_env=False)
            bare_took = time.perf_counter() - began
        with lock:
            codes.append(code)
            times.append(took)
            bare_times.append(bare_took)

    first_at = time.monotonic()
    night = threading.Thread(target=_nights_until, args=(ended, workspace, night_codes))
    night.start()
    try:
        with ThreadPoolExecutor(64) as pool:
            list(pool.map(one, range(N_PLAYERS)))
    finally:
        ended.set()
        night.join()
        for child in (service, bare):
            child.terminate()
            child.wait()
    take_in_waiting(Night(workspace, datetime.now(UTC)))
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        n_rows = scalar(con, "select count(*) from checkin where date = ?", [date.fromisoformat(today)])
        n_right = scalar(con, "select count(*) from checkin where fatigue = cast(substr(player_id, 2) as integer) % 11")
    with capsys.disabled():
        sys.stdout.write(f"\n{_shown('check-in, acknowledged after fsync', times)}\n")
        sys.stdout.write(f"{_shown('bare Starlette route', bare_times)}\nnights meanwhile: {len(night_codes)}\n")
    assert codes == [303] * N_PLAYERS
    assert set(night_codes) == {0}
    assert (n_rows, n_right) == (N_PLAYERS, N_PLAYERS)


def _kill(child: subprocess.Popen[bytes]) -> None:
    os.kill(child.pid, signal.SIGKILL)
    child.wait()


def _on_the_disk(workspace: Workspace) -> set[int]:
    """Players with a check-in in the inbox or where the intake keeps what it took in; a night moves files that way only."""
    found = set[int]()
    for path in (*workspace.inbox.glob("checkins_*"), *(workspace.root / "archive").rglob("*.csv")):
        with contextlib.suppress(FileNotFoundError):  # moved meanwhile: it is met again in the archive
            head, row = path.read_text(encoding="utf-8").splitlines()[:2]
            found |= {int(row[1:4])} if head.startswith("player_id,date,") else set()
    return found


def _nights_until(ended: threading.Event, workspace: Workspace, codes: list[int]) -> None:
    while not ended.is_set():
        codes.append(
            subprocess.run(_command("run", "-w", str(workspace.root), "-q"), stdout=subprocess.DEVNULL, check=False).returncode
        )


class Phones:
    """Phones that hand in the same form with the same id until they hear that it is there; then all of them once more.

    Parameters
    ----------
    address : str
        Of the desk.
    links : list of str
        A player's each.
    day : str
    """

    def __init__(self, address: str, links: list[str], day: str) -> None:
        self._address, self._links, self._day = address, links, day
        self._waiting, self._lock = list(range(len(links))), threading.Lock()
        self.acknowledged: dict[int, int] = {}
        self.n_unheard = 0

    def told(self) -> set[int]:
        """Players who have heard that it is there."""
        with self._lock:
            return set(self.acknowledged)

    def have_all_heard_twice(self) -> bool:
        """Whether everybody was told, and told again."""
        with self._lock:
            return all(self.acknowledged.get(n, 0) >= 2 for n in range(len(self._links)))

    def run(self, ended: threading.Event) -> None:
        """One phone after another."""
        while not ended.is_set():
            with self._lock:
                n = self._waiting.pop(0) if self._waiting else None
            if n is None:
                time.sleep(0.05)
                continue
            heard = self._send(n)
            self._note(n, heard=heard)
            if not heard:
                time.sleep(0.1)

    def _send(self, n: int) -> bool:
        try:
            with httpx.Client(base_url=self._address, timeout=5, trust_env=False) as client:
                client.get(f"/p/{self._links[n]}")
                csrf = client.get("/").text.split('name="csrf" value="')[1].split('"')[0]
                form = {"csrf": csrf, "form_id": f"{n:032x}", "day": self._day, "fatigue": str(n % 11)}
                return client.post("/checkin", data=form).status_code == 303
        except (httpx.HTTPError, IndexError):
            return False

    def _note(self, n: int, *, heard: bool) -> None:
        with self._lock:
            if not heard:
                self.n_unheard += 1
                self._waiting.append(n)
                return
            self.acknowledged[n] = self.acknowledged.get(n, 0) + 1
            if sum(self.acknowledged.values()) == len(self._links):
                self._waiting.extend(range(len(self._links)))  # as if the answer had been lost


def test_what_was_acknowledged_is_there_once_however_often_the_desk_is_killed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    workspace = _academy(tmp_path / "academy")
    desk = opened_desk(workspace, lambda: datetime.now(UTC))
    links = [desk.keys.personal_link(f"p{n:03d}", "player", datetime.now(UTC)) for n in range(N_PLAYERS)]
    port, night_codes, ended = _port(), list[int](), threading.Event()
    moments = np.random.default_rng(16).uniform(0.02, 1.0, N_KILLS)
    phones = Phones(f"http://127.0.0.1:{port}", links, desk.today().isoformat())
    threads = [threading.Thread(target=phones.run, args=(ended,)) for _ in range(12)]
    threads.append(threading.Thread(target=_nights_until, args=(ended, workspace, night_codes)))
    child = _desk(workspace, port)
    for thread in threads:
        thread.start()
    try:
        for moment in moments:
            time.sleep(moment)
            _kill(child)
            assert phones.told() <= _on_the_disk(workspace)
            child = _desk(workspace, port)
        until = time.monotonic() + 240
        while not phones.have_all_heard_twice() and time.monotonic() < until:
            time.sleep(0.2)
    finally:
        ended.set()
        for thread in threads:
            thread.join()
        child.terminate()
        child.wait()
    assert phones.have_all_heard_twice()
    take_in_waiting(Night(workspace, datetime.now(UTC)))
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        n_right = scalar(con, "select count(*) from checkin where fatigue = cast(substr(player_id, 2) as integer) % 11")
        n_files = scalar(con, "select count(*) from file where kind = 'checkins'")
    n_again = sum(phones.acknowledged.values()) - N_PLAYERS
    with capsys.disabled():
        sys.stdout.write(f"\n{N_KILLS} kills, {len(night_codes)} nights meanwhile: {N_PLAYERS} handed in, ")
        sys.stdout.write(f"{phones.n_unheard} tries unanswered, {n_again} handed in again; {n_files} files, {n_right} rows\n")
    assert (n_right, n_files, set(night_codes)) == (N_PLAYERS, N_PLAYERS, {0})
    assert not list(workspace.inbox.glob("checkins_*"))
