"""JSON as cells: objects in which each name stands once, and plain values as native text."""

from __future__ import annotations

import math
from typing import Any


class _TwiceError(ValueError):
    """A name stands twice in one object."""


def named_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """An object from its pairs; a name that stands twice is refused instead of the first value being lost.

    Raises
    ------
    ValueError
    """
    row = dict(pairs)
    if len(row) < len(pairs):
        raise _TwiceError("a name stands twice")
    return row


def json_cell(value: Any) -> str | None:
    r"""One plain value as native text; None for nothing.

    Raises
    ------
    TypeError
        When it is a list, an object or anything else that is no plain value.
    UnicodeEncodeError
        When it holds half a character, as ``"\ud83d"`` names one.
    """
    if value is None or value == "":
        return None
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        value.encode()
        return value.strip() or None
    if isinstance(value, (int, float)):
        return repr(value) if math.isfinite(value) else str(value)
    raise TypeError(type(value).__name__)


def shown_line(line: bytes) -> str:
    """The beginning of a line as a problem shows it."""
    return line[:200].decode("utf-8", "replace").replace("\0", "\ufffd")
