"""What stands before every request: headers, the name it was called by, its size, and the time that it may take."""

from __future__ import annotations

import asyncio
import ipaddress
import socket
from typing import TYPE_CHECKING, Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable, MutableMapping

    Message = MutableMapping[str, Any]
    Receive = Callable[[], Awaitable[Message]]
    Send = Callable[[Message], Awaitable[None]]
    Application = Callable[[Message, Receive, Send], Awaitable[None]]

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; connect-src 'self'; worker-src 'self'; "
    "base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
"""Of the desk's own pages; the pages of a room carry a stricter one of their own, and both count."""

HEADERS: tuple[tuple[bytes, bytes], ...] = (
    (b"content-security-policy", POLICY.encode()),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"same-origin"),  # none at all would make browsers send forms with the origin "null"
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=(), payment=(), usb=()"),
)

FORM_BYTES, FILES_BYTES = 64 * 1024, 64 * 1024 * 1024
"""Largest body of a form, and of files that are dropped."""

HEAD_S, BODY_S = 10.0, 60.0
"""Longest time for the head of a request, and for its body [s]."""


def allowed_host(header: str, names: frozenset[str]) -> bool:
    """Whether a Host header names this service: a number address, the machine itself, or a name that was told.

    A name that somebody else's server points here is refused, so that no foreign page can be led to the desk.
    """
    name = header.rpartition(":")[0] if header.rpartition(":")[2].isdigit() and not header.endswith("]") else header
    name = name.strip("[]").lower()
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return name in names
    return True


def own_names(*told: str) -> frozenset[str]:
    """Names by which the desk may be called."""
    machine = socket.gethostname().lower()
    return frozenset({"localhost", machine, f"{machine}.local", *(name.lower() for name in told)})


class TooLargeError(Exception):
    """The body is larger than it may be; one that is not whole in time raises TimeoutError."""


class Shield:
    """Adds the headers, refuses foreign names, and holds bodies within size and time.

    Parameters
    ----------
    application : ASGI application
    names : frozenset of str
        Names by which the desk may be called, beside number addresses.
    secure : bool
        TLS: browsers are told to keep to it.
    """

    def __init__(self, application: Application, names: frozenset[str], *, secure: bool = False) -> None:
        self.application = application
        self.names = names
        self.headers = [*HEADERS, *([(b"strict-transport-security", b"max-age=31536000")] if secure else [])]

    async def __call__(self, scope: Message, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.application(scope, receive, send)
            return
        sending = self._with_headers(send)
        head = {name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]}
        if not allowed_host(head.get("host", ""), self.names):
            await _refuse(sending, 421, "This desk is not called by that name.")
            return
        most = FILES_BYTES if scope["path"] == "/drop" else FORM_BYTES
        length = head.get("content-length", "").lstrip("0")
        if length.isdecimal() and (len(length) > len(str(most)) or int(length) > most):
            await _refuse(sending, 413, "That is too much at once.")
            return
        await self.application(scope, _limited(receive, most), sending)

    def _with_headers(self, send: Send) -> Send:
        async def sending(message: Message) -> None:
            if message["type"] == "http.response.start":
                there = {name.lower() for name, _ in message["headers"]}
                message["headers"] = [*message["headers"], *(pair for pair in self.headers if pair[0] not in there)]
                if b"cache-control" not in there:
                    message["headers"].append((b"cache-control", b"no-store"))
            await send(message)

        return sending


def _limited(receive: Receive, most: int) -> Receive:
    loop = asyncio.get_running_loop()
    until, seen, ended = loop.time() + BODY_S, 0, False

    async def receiving() -> Message:
        nonlocal seen, ended
        if ended:
            return await receive()  # what may come now is that the other side has gone
        async with asyncio.timeout_at(until):
            message = await receive()
        seen += len(message.get("body", b""))
        ended = not message.get("more_body", False)
        if seen > most:
            raise TooLargeError
        return message

    return receiving


async def _refuse(send: Send, status: int, text: str) -> None:
    body = text.encode()
    headers = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"content-length", str(len(body)).encode()),
        (b"connection", b"close"),
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})


class PatientlessProtocol(H11Protocol):
    """Closes a connection whose next request has begun, or never begins, and is not whole in its head within the time."""

    _head_timer: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        """Begin to wait for a head."""
        super().connection_made(transport)
        self._wait_for_head()

    def data_received(self, data: bytes) -> None:
        """Stop waiting when the head is whole."""
        super().data_received(data)
        if self.conn.their_state is h11.IDLE:
            if self._head_timer is None:
                self._wait_for_head()
        else:
            self._stop_waiting()

    def connection_lost(self, exc: Exception | None) -> None:
        """Stop waiting."""
        self._stop_waiting()
        super().connection_lost(exc)

    def _wait_for_head(self) -> None:
        self._head_timer = self.loop.call_later(HEAD_S, self._close_unheard)

    def _stop_waiting(self) -> None:
        if self._head_timer is not None:
            self._head_timer.cancel()
            self._head_timer = None

    def _close_unheard(self) -> None:
        self._head_timer = None
        if self.transport is not None and not self.transport.is_closing():
            self.transport.abort()
