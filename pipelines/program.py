"""The program as what it computes depends on it: when a file of it changes, the next night computes everything anew."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from importlib.resources.abc import Traversable

_PACKAGES = ("schemas", "warehouse", "pipelines", "reports")


@cache
def program_digest() -> str:
    """SHA-256 over every file of the packages but pictures for the repository's readers; read once by a process."""
    digest = hashlib.sha256()
    for package in _PACKAGES:
        for item in _shipped(resources.files(package)):
            digest.update(item.name.encode() + item.read_bytes())
    return digest.hexdigest()


def _shipped(folder: Traversable) -> Iterator[Traversable]:
    for item in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if item.is_dir():
            yield from _shipped(item) if item.name not in {"__pycache__", "pictures"} else ()
        else:
            yield item
