"""The federation's server: a process of its own that is started, told what federation.toml says, and stopped in order."""

from __future__ import annotations

import asyncio
import os
import signal
import socket
import ssl
import subprocess
import urllib.request
from contextlib import suppress
from ipaddress import ip_address
from itertools import count
from typing import TYPE_CHECKING
from urllib.error import HTTPError
from urllib.parse import urlsplit

from pipelines.flows.federation.places import api_url, auth_string, client_environment, server_environment, server_place
from pipelines.flows.server import start_closed_server, stop_child, wait_until
from pipelines.listening import why_closed
from pipelines.workspace import keep_to_owner
from schemas.errors import ScheduleError, SettingsError

if TYPE_CHECKING:
    from collections.abc import Callable

    from pipelines.federation import FederationFolder
    from schemas.federation import Federation

_START_S, _DATABASE_S = 120.0, 10.0
_LOOK_AFTER_S, _LISTEN_EACH = 30.0, 10
"""So often a loss is looked for that no automation saw; the silence of runs is measured anew each tenth time."""


def serve(folder: FederationFolder, tell: Callable[[str], None]) -> None:
    """Run the server, tell it what federation.toml says, and keep it until this process is asked to stop.

    Raises
    ------
    SettingsError
        When federation.toml cannot be used.
    ScheduleError
        When database or server do not start, or the server ends by itself.
    """
    federation = folder.federation()
    _refuse_open_door(federation)
    keep_to_owner()
    signal.signal(signal.SIGTERM, _stop_in_order)
    signal.signal(signal.SIGINT, _stop_in_order)  # a shell that starts it in the background had it ignored
    _try_database(federation.server.database_url)
    require_free(*server_place(federation))
    os.environ.update(client_environment(folder, federation))
    tell("Starting the federation's server")
    with suppress(KeyboardInterrupt):
        child = _start(folder, federation)
        try:
            _wait_until_it_listens(child, federation)
            reach(folder, federation)
            from pipelines.flows.federation.register import register  # noqa: PLC0415 - reads its settings when imported

            n = register(federation)
            tell(
                f"Serving the nights of {len(federation.academies)} academies in {n} runs; "
                f"API at {api_url(federation)}; stop with Ctrl-C"
            )
            _look_after_runs(child)
        finally:
            stop_child(child)
        raise ScheduleError(
            f"The federation's server has ended by itself (exit code {child.returncode}).",
            "Look at its database, and start it again.",
        )


def _look_after_runs(child: subprocess.Popen[bytes]) -> None:
    """Until the server ends: what was lost while it, or its database, was not there to see it."""
    from httpx import HTTPError  # noqa: PLC0415 - Prefect's own

    from pipelines.flows.federation.register import begin_lost_again, listen_for_life  # noqa: PLC0415 - the same

    for at in count():
        with suppress(HTTPError):  # a database that is away: the next look is soon
            begin_lost_again()
            if at % _LISTEN_EACH == 0:
                listen_for_life()
        with suppress(subprocess.TimeoutExpired):
            child.wait(_LOOK_AFTER_S)
            return


def _stop_in_order(_signal: int, _frame: object) -> None:
    raise KeyboardInterrupt


def _refuse_open_door(federation: Federation) -> None:
    """Whoever has the key can let workers run what they like, so it does not cross a network that others read."""
    server, (host, _) = federation.server, server_place(federation)
    if is_loopback(host) or server.tls_cert is not None or server.plain_http:
        return
    raise SettingsError(
        f"The server would listen at {host} without TLS, and whoever listens in that network would read its key.",
        "Set tls_cert and tls_key in [server], or listen at 127.0.0.1 behind a reverse proxy; plain_http = true where the "
        "network itself is encrypted.",
    )


def is_loopback(host: str) -> bool:
    """Whether only this machine reaches that address."""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _try_database(url: str) -> None:
    if not url:
        return
    import asyncpg  # noqa: PLC0415 - wanted where there is a database alone

    async def connect() -> None:
        await (await asyncpg.connect(url, timeout=_DATABASE_S)).close()

    try:
        asyncio.run(connect())
    except (OSError, TimeoutError, asyncpg.PostgresError, asyncpg.InterfaceError) as fault:
        parts = urlsplit(url)
        raise ScheduleError(
            f"The database {parts.path.strip('/')} at {parts.hostname} cannot be reached: {type(fault).__name__}.",
            "Start PostgreSQL, make the database (`createdb`), and see that user and password (PGPASSWORD, ~/.pgpass) are right.",
        ) from fault


def require_free(host: str, port: int) -> None:
    """See that the server can listen there: one that does already would answer in its place, and be told what to do.

    Raises
    ------
    ScheduleError
    """
    if said := why_closed(host, port):
        raise ScheduleError(
            f"The server cannot listen at {host}:{port}: {said}.",
            "Another `speedworth federation serve` may be running there; else set `listen` in [server] to an address of this "
            "machine.",
        )


def _start(folder: FederationFolder, federation: Federation) -> subprocess.Popen[bytes]:
    server, (host, port) = federation.server, server_place(federation)
    called = urlsplit(server.address)
    names = {called.netloc, called.hostname or "", f"{host}:{port}"}
    options = [f"--name={name}" for name in sorted(names)]
    if server.tls_cert is not None and server.tls_key is not None:
        options += [f"--tls-cert={server.tls_cert}", f"--tls-key={server.tls_key}"]
    environment = os.environ | server_environment(folder, federation)
    return start_closed_server(host, port, *options, environment=environment)


def _wait_until_it_listens(child: subprocess.Popen[bytes], federation: Federation) -> None:
    """It listens when everything behind it has begun."""
    host, port = server_place(federation)

    def listens() -> bool:
        with suppress(OSError), socket.create_connection((_nearest(host), port), timeout=2):
            return True
        return False

    otherwise = ScheduleError(
        f"The federation's server does not start at {host}, port {port}.",
        "Look whether another program uses the port, the disk is full, or certificate and key do not fit, then start it.",
    )
    wait_until(listens, child, _START_S, otherwise)


def _nearest(host: str) -> str:
    return {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(host, host)  # noqa: S104 - read from the settings, not bound


def reach(folder: FederationFolder, federation: Federation) -> None:
    """See that the server answers to this folder's key.

    Raises
    ------
    ScheduleError
        When it does not answer, or does not know the key.
    """
    url = api_url(federation)
    trusted = str(federation.server.trusted_ca) if federation.server.trusted_ca else None
    try:
        context = ssl.create_default_context(cafile=trusted) if url.startswith("https") else None
        key = {"authorization": _basic(auth_string(folder))}
        request = urllib.request.Request(f"{url}/admin/version", headers=key)  # noqa: S310 - as federation.toml says
        with urllib.request.urlopen(request, timeout=10, context=context):  # noqa: S310 - the same
            return
    except HTTPError as fault:
        if fault.code in {401, 403}:
            raise ScheduleError(
                f"The server at {url} does not know this machine's key.", "Copy .federation-key from the server's folder again."
            ) from fault
        raise ScheduleError(f"What answers at {url} is not the federation's server ({fault.code}).", _LOOK_AT_ADDRESS) from fault
    except OSError as fault:
        raise ScheduleError(f"No server of the federation answers at {url}.", _LOOK_AT_ADDRESS) from fault


_LOOK_AT_ADDRESS = (
    "Start `speedworth federation serve` on its machine, and see that address in [server] of federation.toml is right."
)


def _basic(secret: str) -> str:
    from base64 import b64encode  # noqa: PLC0415 - wanted here alone

    return f"Basic {b64encode(secret.encode()).decode()}"
