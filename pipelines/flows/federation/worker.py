"""A worker: takes nights from the queues that its machine may work on, one after the other, until it is asked to stop."""

from __future__ import annotations

import asyncio
import os
import signal
import time
from contextlib import suppress
from typing import TYPE_CHECKING

from pipelines.flows.federation.places import POOL, worker_environment
from pipelines.flows.federation.server import reach
from pipelines.workspace import keep_to_owner
from schemas.errors import ScheduleError, SettingsError

if TYPE_CHECKING:
    from collections.abc import Callable

    from pipelines.federation import FederationFolder
    from schemas.federation import Federation

_AGAIN_S = 10.0


def queues_of(federation: Federation, machine: str) -> tuple[str, ...]:
    """The queues that a machine of that name takes nights from.

    Raises
    ------
    SettingsError
        When there is no academy whose nights it may do.
    """
    found = federation.queues_of(machine)
    if not found:
        named = federation.machines
        todo = f"Name one of its machines with --machine: {', '.join(named)}." if named else "List academies in federation.toml."
        raise SettingsError(f"No academy of federation.toml can be worked on by a machine called {machine}.", todo)
    return found


def work(folder: FederationFolder, machine: str, at_once: int, tell: Callable[[str], None]) -> None:
    """Take nights until this process is asked to stop; a server that goes away is waited for.

    Raises
    ------
    SettingsError
        When federation.toml cannot be used, or has nothing for this machine.
    WorkspaceError
        When this machine has no key.
    ScheduleError
        When the server does not answer at the start, or does not know the key.
    """
    federation = folder.federation()
    queues = queues_of(federation, machine)
    if federation.machines and machine not in federation.machines:
        named = ", ".join(federation.machines)
        tell(f"No academy names the machine {machine} (named are {named}): it does nights of those that name none")
    reach(folder, federation)
    keep_to_owner()
    os.environ.update(worker_environment(folder, federation, machine))
    signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell that starts it in the background had it ignored
    signal.signal(signal.SIGTERM, _stop_in_order)
    tell("Starting the worker")
    with suppress(KeyboardInterrupt):
        while True:
            _take_nights(queues, machine, at_once, tell)
            tell("The server does not answer any more; waiting for it")
            _wait_for_server(folder, federation)


def _stop_in_order(_signal: int, _frame: object) -> None:
    os.kill(os.getpid(), signal.SIGINT)


def _take_nights(queues: tuple[str, ...], machine: str, at_once: int, tell: Callable[[str], None]) -> None:
    """Until the server is gone for longer than Prefect's own patience."""
    from prefect.workers.process import ProcessWorker  # noqa: PLC0415 - Prefect reads its settings when imported

    words = iter((f"Taking nights of {', '.join(queues)} as {machine}, {at_once} at a time; stop with Ctrl-C",))

    def say(*_words: object) -> None:
        """Prefect speaks when the worker has started, and again of each trouble with the server, which is waited for."""
        for told in words:
            tell(told)

    async def run() -> None:
        worker = ProcessWorker(
            POOL,
            list(queues),
            name=f"{machine} {os.getpid()}",
            create_pool_if_not_found=False,
            limit=at_once,
            heartbeat_interval_seconds=30,
        )
        await worker.start(printer=say)

    with suppress(Exception):  # whatever it was: the server is looked for, and the wait is told
        asyncio.run(run())


def _wait_for_server(folder: FederationFolder, federation: Federation) -> None:
    while True:
        time.sleep(_AGAIN_S)
        with suppress(ScheduleError):
            return reach(folder, federation)
