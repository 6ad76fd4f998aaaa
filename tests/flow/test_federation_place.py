"""A federation's server begins only where it can listen: another one there would be told its settings, and answer for it."""

from __future__ import annotations

import socket

import pytest

from pipelines.flows.federation.server import require_free
from schemas.errors import ScheduleError


def test_an_address_at_which_somebody_listens_is_told_of_before_anything_is_started() -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(ScheduleError) as refused:
            require_free("127.0.0.1", port)
    assert f"The server cannot listen at 127.0.0.1:{port}: Address already in use." in str(refused.value)
    assert "Another `speedworth federation serve` may be running there" in str(refused.value)
    require_free("127.0.0.1", port)


def test_an_address_of_another_machine_is_told_of() -> None:
    """192.0.2.0/24 is nobody's (RFC 5737, section 3)."""
    with pytest.raises(ScheduleError, match=r"cannot listen at 192\.0\.2\.1:8017"):
        require_free("192.0.2.1", 8017)
