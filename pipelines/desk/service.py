"""The service: its addresses behind their guard, served by uvicorn until stopped."""

from __future__ import annotations

import hashlib
import hmac
import ipaddress
import traceback
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import PlainTextResponse, Response
from starlette.routing import Route

from pipelines.desk.keys import Keys
from pipelines.desk.routes import ENTRIES, Entry
from pipelines.desk.shield import PatientlessProtocol, Shield, TooLargeError, own_names
from pipelines.desk.view import ViewFile, utc_now
from pipelines.desk.visit import SESSION_COOKIE, Desk, Visit
from pipelines.listening import why_closed
from pipelines.stages.audit_log import note
from reports.shared_files import static_file
from schemas.errors import SpeedworthError, UsageError

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable
    from datetime import datetime

    from argon2 import PasswordHasher
    from starlette.requests import Request

    from pipelines.workspace import Workspace

MOST_CONNECTIONS = 400


def _named(stem: str, ending: str, text: str) -> str:
    return f"{stem}-{hashlib.sha256(text.encode()).hexdigest()[:10]}.{ending}"


def desk_of(
    workspace: Workspace,
    clock: Callable[[], datetime] = utc_now,
    *,
    secure: bool = False,
    hasher: PasswordHasher | None = None,
) -> Desk:
    """The desk of a workspace.

    Raises
    ------
    SettingsError
        When academy.toml cannot be used.
    """
    texts = {
        "styles": ("print", "css", static_file("print.css")),
        "forms": ("desk", "css", static_file("desk.css")),
        "script": ("desk", "js", static_file("desk.js")),
        "worker": ("worker", "js", static_file("worker.js")),
    }
    names = {key: _named(*parts) for key, parts in texts.items()}
    assets = {names[key]: parts[2] for key, parts in texts.items()}
    keys = Keys(workspace.desk, hasher)
    return Desk(workspace, workspace.academy(), keys, ViewFile(workspace.desk), assets, names, clock, secure)


def application(desk: Desk, *names: str) -> Shield:
    """The service as an ASGI application; ``names`` are names by which it may be called beside its own."""
    app = Starlette(
        routes=[Route(entry.path, _guarded(desk, entry), methods=[entry.method]) for entry in ENTRIES],
        exception_handlers={
            HTTPException: _plain_fault,
            TooLargeError: _too_large,
            TimeoutError: _too_slow,
            Exception: _unexpected(desk),
        },
    )
    return Shield(app, own_names(*names), secure=desk.secure)


async def _plain_fault(_request: Request, fault: Exception) -> Response:
    status = fault.status_code if isinstance(fault, HTTPException) else 500
    return PlainTextResponse({404: "Nothing here.", 405: "Not like this."}.get(status, "This cannot be read."), status)


async def _too_large(_request: Request, _fault: Exception) -> Response:
    return PlainTextResponse("That is too much at once.", 413, {"connection": "close"})


async def _too_slow(_request: Request, _fault: Exception) -> Response:
    return PlainTextResponse("That took too long.", 408, {"connection": "close"})


def _unexpected(desk: Desk) -> Callable[[Request, Exception], Awaitable[Response]]:
    """An answer to a fault of the program, which leaves a line in the log: which kind, where, and at which address."""

    async def answer(request: Request, fault: Exception) -> Response:
        where = traceback.extract_tb(fault.__traceback__)[-1]
        address = getattr(request.scope.get("route"), "path", "") or "no known address"
        told = f"desk fault at {address}: {type(fault).__name__} in {Path(where.filename).name} line {where.lineno}"
        await run_in_threadpool(note, desk.workspace, desk.clock(), told)
        return PlainTextResponse("Something went wrong here; nothing was handed in. Go back and try again.", 500)

    return answer


def _guarded(desk: Desk, entry: Entry) -> Callable[[Request], Awaitable[Response]]:
    async def endpoint(request: Request) -> Response:
        visit = Visit(desk, request)
        refusal = await run_in_threadpool(_refusal, visit, entry)
        if refusal is not None:
            return refusal
        if entry.method != "POST":
            return await run_in_threadpool(_answer, visit, entry)
        if not request.headers.get("content-type", "").startswith(("application/x-www-form-urlencoded", "multipart/form-data")):
            return PlainTextResponse("This cannot be read.", 415)
        try:
            visit.form = form = await request.form(max_files=entry.n_files, max_fields=entry.n_fields, max_part_size=32 * 1024)
        except HTTPException:
            return await run_in_threadpool(visit.refused, 400, "desk.form_too_full", files=entry.n_files)
        try:
            if visit.session is not None and not _carries_token(visit):
                return await run_in_threadpool(visit.refused, 403, "desk.stale_form")
            return await run_in_threadpool(_answer, visit, entry)
        finally:
            await form.close()

    endpoint.__name__ = f"{entry.method.lower()}_{entry.answer.__name__}"
    return endpoint


def _refusal(visit: Visit, entry: Entry) -> Response | None:
    """What somebody is told who may not ask this; None for those who may."""
    desk = visit.desk
    if entry.method == "POST" and not _from_here(visit.request):
        return visit.refused(403, "desk.stale_form")
    token = desk.unsigned(visit.request.cookies.get(SESSION_COOKIE, ""))
    visit.session = desk.keys.session(token, desk.clock()) if token else None
    if not entry.roles:
        return None
    if visit.session is None:
        return visit.go("/enter") if entry.method == "GET" else visit.refused(401, "desk.come_in_again")
    if visit.session.role not in entry.roles:
        return visit.refused(403, "desk.not_yours")
    return None


def _from_here(request: Request) -> bool:
    """Whether a form was sent by a page of this desk, as far as the browser tells."""
    origin, site = request.headers.get("origin"), request.headers.get("sec-fetch-site", "same-origin")
    if site not in {"same-origin", "none"}:
        return False
    return origin is None or urlsplit(origin).netloc == request.headers.get("host", "")


def _carries_token(visit: Visit) -> bool:
    return hmac.compare_digest(visit.field("csrf").encode(), visit.desk.csrf(visit.me.token).encode())


def _answer(visit: Visit, entry: Entry) -> Response:
    try:
        return entry.answer(visit)
    except SpeedworthError as fault:
        return visit.page("message", visit.words("desk.no"), 503, said=str(fault))


def is_loopback(host: str) -> bool:
    """Whether only this machine reaches the address."""
    try:
        return host == "localhost" or ipaddress.ip_address(host).is_loopback
    except ValueError:
        return False


def serve(desk: Desk, host: str, port: int, tls: tuple[Path, Path] | None = None, names: tuple[str, ...] = ()) -> None:
    """Serve until the process is asked to stop.

    Raises
    ------
    UsageError
        When the port is taken or the certificate cannot be read.
    """
    import uvicorn  # noqa: PLC0415 - heavy; tests ask the application without it

    more: dict[str, Any] = {"ssl_certfile": str(tls[0]), "ssl_keyfile": str(tls[1])} if tls else {}
    config = uvicorn.Config(
        application(desk, host, *names),
        host=host,
        port=port,
        http=PatientlessProtocol,
        ws="none",
        log_level="critical",
        access_log=False,
        server_header=False,
        date_header=True,
        limit_concurrency=MOST_CONNECTIONS,
        timeout_keep_alive=15,
        timeout_graceful_shutdown=5,
        **more,
    )
    try:
        config.load()
        uvicorn.Server(config).run()
    except (OSError, SystemExit) as fault:
        raise UsageError(
            f"The desk cannot be opened at {host}:{port}: {why_closed(host, port) or fault}.",
            "Choose another --port, and check that certificate and key are PEM files.",
        ) from fault
