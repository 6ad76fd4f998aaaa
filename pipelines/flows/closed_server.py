"""The embedded Prefect server as a process of its own, closed to everybody who does not hold this start's secret.

Prefect asks for the authentication string on its API alone: the descriptions of the API and of the settings would lie open beside
it, and any name in the Host header would do, so a page in a browser could be led to it. Here only the API answers, under the
address that it was started with.
"""

from __future__ import annotations

import sys
from argparse import ArgumentParser
from typing import TYPE_CHECKING, Any

from pipelines.collector import collect_seldom

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable, MutableMapping

    Message = MutableMapping[str, Any]
    Receive = Callable[[], Awaitable[Message]]
    Send = Callable[[Message], Awaitable[None]]
    Application = Callable[[Message, Receive, Send], Awaitable[None]]


class OnlyTheApi:
    """Passes on what asks for the API under the server's own address, and answers 404 to everything else.

    Parameters
    ----------
    application : ASGI application
    hosts : frozenset of bytes
        Allowed values of the Host header.
    """

    def __init__(self, application: Application, hosts: frozenset[bytes]) -> None:
        self.application = application
        self.hosts = hosts

    async def __call__(self, scope: Message, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] == "lifespan" or self._is_meant(scope):
            await self.application(scope, receive, send)
        elif scope["type"] == "websocket":
            await send({"type": "websocket.close", "code": 1008})
        else:
            await send({"type": "http.response.start", "status": 404, "headers": [(b"content-length", b"0")]})
            await send({"type": "http.response.body", "body": b""})

    def _is_meant(self, scope: Message) -> bool:
        host = next((value for name, value in scope["headers"] if name == b"host"), b"")
        path = str(scope["path"])
        described = path.startswith(("/api/docs", "/api/redoc", "/api/openapi"))
        return host in self.hosts and path.startswith("/api/") and not described


def main(arguments: list[str]) -> None:
    """Serve until the process is asked to stop."""
    parser = ArgumentParser()
    parser.add_argument("host")
    parser.add_argument("port", type=int)
    parser.add_argument("--name", action="append", default=[], help="another value that the Host header may have")
    parser.add_argument("--tls-cert")
    parser.add_argument("--tls-key")
    given = parser.parse_args(arguments)
    import uvicorn  # noqa: PLC0415 - heavy, and this module's class is tested without it
    from prefect.server.api.server import create_app  # noqa: PLC0415 - reads its settings from the environment when imported

    names = (f"{given.host}:{given.port}", f"localhost:{given.port}", *given.name)
    uvicorn.run(
        OnlyTheApi(create_app(final=True), frozenset(name.encode() for name in names if name)),
        host=given.host,
        port=given.port,
        ssl_certfile=given.tls_cert,
        ssl_keyfile=given.tls_key,
        log_level="critical",
        access_log=False,
    )


if __name__ == "__main__":
    collect_seldom()
    main(sys.argv[1:])
