"""A disk that is full: no file of this process grows beyond a size."""

from __future__ import annotations

import resource
import signal
import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator


@contextmanager
def no_file_beyond(size: int) -> Iterator[None]:
    """Writing beyond ``size`` bytes of a file fails, as on a full disk, until the end of the block.

    No bytecode is written meanwhile: a module's file that was cut off would break every later import of it.
    """
    bytecode, sys.dont_write_bytecode = sys.dont_write_bytecode, True
    limits = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, limits[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, limits)
        signal.signal(signal.SIGXFSZ, handler)
        sys.dont_write_bytecode = bytecode
