"""Whether a server of ours could listen at an address."""

from __future__ import annotations

import socket


def why_closed(host: str, port: int) -> str:
    """What the system says when somebody wants to listen there; empty when it lets them."""
    try:
        family, kind, protocol, _, address = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        with socket.socket(family, kind, protocol) as tried:
            tried.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            tried.bind(address)
    except OSError as fault:
        return fault.strerror or str(fault)
    return ""
