"""Readers that run in a process of their own, within limits of memory and time: no doubtful file can end a night.

One child is started when the first such file comes, and used for all that follow; after a file that broke it, it is started anew.
"""

from __future__ import annotations

import atexit
import functools
import importlib
import os
import pickle
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any, TypeVar, cast

from pipelines.stages.intake.table import Unread

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import IO

MOST_MEMORY_BYTES = 800_000_000
"""Data that the child may hold, and no more: a file that needs more is held."""
_FREE_S, _SECONDS_PER_MB = 15.0, 1.5
_HEADER, _READY = 8, b"ready"

Reader = TypeVar("Reader", bound="Callable[..., Any]")


class _Child:
    """The other process; ``is_here`` is true inside it."""

    is_here = False

    def __init__(self) -> None:
        self._running: subprocess.Popen[bytes] | None = None

    def answer(self, request: bytes, limit_s: float) -> bytes:
        """What the child answers; raises ``TimeoutError`` or ``EOFError``, after which it is no more."""
        child = self._started()
        with ThreadPoolExecutor(1) as beside:
            answered = beside.submit(_exchanged, child, request)
            try:
                return answered.result(limit_s)
            except TimeoutError:
                _ended(child)
                raise
            except (OSError, EOFError) as fault:
                _ended(child)
                raise EOFError from fault

    def _started(self) -> subprocess.Popen[bytes]:
        if self._running is not None and self._running.poll() is not None:
            self.stop()
        if self._running is None:
            self._running = subprocess.Popen(
                [sys.executable, "-c", "from pipelines.stages.intake.apart import serve; serve()"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env={**os.environ, "POLARS_MAX_THREADS": "2", "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
            )
            cast("IO[bytes]", self._running.stdout).read(
                len(_READY)
            )  # how long a busy machine takes to start it is no file's fault
        return self._running

    def stop(self) -> None:
        """End the child."""
        if self._running is not None:
            self._running.kill()
            self._running.wait()
            for stream in (self._running.stdin, self._running.stdout):
                if stream is not None:
                    stream.close()
            self._running = None


def _ended(child: subprocess.Popen[bytes]) -> None:
    """End it and wait until it is: whoever asked a dying process next would be told that it failed at his file."""
    child.kill()
    child.wait()


def _exchanged(child: subprocess.Popen[bytes], request: bytes) -> bytes:
    to_child, from_child = cast("IO[bytes]", child.stdin), cast("IO[bytes]", child.stdout)
    to_child.write(len(request).to_bytes(_HEADER, "little") + request)
    to_child.flush()
    size = from_child.read(_HEADER)
    data = from_child.read(int.from_bytes(size, "little"))
    if len(size) < _HEADER or len(data) < int.from_bytes(size, "little"):
        raise EOFError
    return data


_CHILD = _Child()
atexit.register(_CHILD.stop)


def end() -> None:
    """End the other process; the next doubtful file starts one anew."""
    _CHILD.stop()


def apart(over: int = 0) -> Callable[[Reader], Reader]:
    """Let a reader of ``data`` run in the other process, for files of more than ``over`` bytes."""

    def decorate(reader: Reader) -> Reader:
        @functools.wraps(reader)
        def elsewhere(data: bytes, *args: Any, **options: Any) -> Any:
            if _CHILD.is_here or len(data) <= over:
                return reader(data, *args, **options)
            return _read_elsewhere(reader.__module__, reader.__name__, (data, *args), options)

        return cast("Reader", elsewhere)

    return decorate


def _read_elsewhere(module: str, name: str, args: tuple[Any, ...], options: dict[str, Any]) -> Any:
    megabytes = len(args[0]) / 1e6
    limit_s = _FREE_S + _SECONDS_PER_MB * megabytes
    try:
        answer = _CHILD.answer(pickle.dumps((module, name, args, options), protocol=5), limit_s)
    except TimeoutError:
        return Unread("took_too_long", f"not read within {limit_s:.0f} s")
    except EOFError:
        return Unread("took_too_long", f"reading it needs more than {MOST_MEMORY_BYTES // 1_000_000} MB of memory")
    return pickle.loads(answer)  # noqa: S301 - from our own process


def _limit_memory() -> None:
    try:
        resource = importlib.import_module("resource")
    except ModuleNotFoundError:  # a system without such limits: the bound on cells and the time limit remain
        return
    resource.setrlimit(resource.RLIMIT_DATA, (MOST_MEMORY_BYTES, MOST_MEMORY_BYTES))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def serve() -> None:
    """What the other process does: read what it is handed until nothing comes any more."""
    _CHILD.is_here = True
    _limit_memory()
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever a library prints is no answer
    importlib.import_module("pipelines.stages.intake.batch")
    answers.write(_READY)
    answers.flush()
    while header := sys.stdin.buffer.read(_HEADER):
        module, name, args, options = pickle.loads(sys.stdin.buffer.read(int.from_bytes(header, "little")))  # noqa: S301
        try:
            answer: Any = getattr(importlib.import_module(module), name)(*args, **options)
        except MemoryError:
            answer = Unread("took_too_long", f"reading it needs more than {MOST_MEMORY_BYTES // 1_000_000} MB of memory")
        except BaseException as fault:  # noqa: BLE001 - a panic of a library too; the file is held
            answer = Unread("not_readable", f"{type(fault).__name__}: {fault}".splitlines()[0][:200])
        data = pickle.dumps(answer, protocol=5)
        answers.write(len(data).to_bytes(_HEADER, "little") + data)
        answers.flush()
