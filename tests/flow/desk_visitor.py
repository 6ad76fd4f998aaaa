"""A visitor of the desk: a browser without script, which keeps cookies and sends forms as they stand on a page."""

from __future__ import annotations

import asyncio
import html
import re
import socket
import threading
import time
from contextlib import contextmanager
from typing import TYPE_CHECKING

import httpx
import uvicorn
from argon2 import PasswordHasher

from pipelines.desk.service import application, desk_of
from pipelines.desk.shield import PatientlessProtocol

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from datetime import datetime

    from pipelines.desk.keys import Role
    from pipelines.desk.visit import Desk
    from pipelines.workspace import Workspace

QUICK = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1)
"""Weak and quick: what a key costs is not what these tests are about."""


def opened_desk(workspace: Workspace, clock: Callable[[], datetime]) -> Desk:
    return desk_of(workspace, clock, hasher=QUICK)


@contextmanager
def served_desk(desk: Desk) -> Iterator[int]:
    """The desk behind its real server; the port."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = int(free.getsockname()[1])
    config = uvicorn.Config(
        application(desk), port=port, http=PatientlessProtocol, ws="none", log_level="critical", access_log=False,
        lifespan="off", server_header=False, timeout_graceful_shutdown=1,
    )  # fmt: skip
    server = uvicorn.Server(config)
    thread = threading.Thread(target=lambda: asyncio.run(server.serve()), daemon=True)
    thread.start()
    until = time.monotonic() + 20
    while not server.started and time.monotonic() < until:
        time.sleep(0.01)
    yield port
    server.should_exit = True
    thread.join(20)


@contextmanager
def come_in(desk: Desk, port: int, role: Role | None = None, subject: str = "") -> Iterator[httpx.Client]:
    """Somebody who has come in by that role's link, or nobody yet."""
    fresh = httpx.Limits(max_keepalive_connections=0)  # on a busy machine a kept one is closed while a test computes
    with httpx.Client(
        base_url=f"http://127.0.0.1:{port}", follow_redirects=True, timeout=20, trust_env=False, limits=fresh
    ) as client:
        if role is not None:
            link = desk.keys.personal_link(subject or role, role, desk.clock())
            assert client.get(f"/p/{link}").status_code == 200
        yield client


@contextmanager
def visitor(desk: Desk, role: Role | None = None, subject: str = "") -> Iterator[httpx.Client]:
    """The same, with a server of its own."""
    with served_desk(desk) as port, come_in(desk, port, role, subject) as client:
        yield client


def fields(page: str, action: str) -> dict[str, str]:
    """Hidden fields of the first form with that action."""
    found = re.search(rf'<form[^>]*action="{re.escape(action)}"[^>]*>(.*?)</form>', page, re.DOTALL)
    assert found, f"no form for {action}"
    return dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', found[1]))


def send(client: httpx.Client, page: str, action: str, **answers: str) -> httpx.Response:
    """Open a page, fill in its form for ``action``, and send it."""
    shown = client.get(page)
    assert shown.status_code == 200, shown.text
    return client.post(action, data={**fields(shown.text, action), **answers})


def filled_in(page: str) -> dict[str, str]:
    """Everything that a browser would send of the form of a mapping as it stands: hidden fields, texts, chosen options."""
    form = re.search(r"<form[^>]*data-follow.*?</form>", page, re.DOTALL)
    assert form, page
    found = dict(re.findall(r'<input[^>]*name="([^"]+)" value="([^"]*)"', form[0]))
    for name, options in re.findall(r'<select[^>]*name="([^"]+)"[^>]*>(.*?)</select>', form[0], re.DOTALL):
        chosen = re.search(r'value="([^"]*)" selected', options) or re.search(r'value="([^"]*)"', options)
        found[name] = chosen[1] if chosen else ""
    return {name: html.unescape(value) for name, value in found.items()}
