"""HTML of a pattern and what stands in it, escaped unless it is markup already.

The same as the methods of ``Markup``, which read patterns in Python and wrap every part anew: a page has thousands of them.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from markupsafe import Markup, escape

if TYPE_CHECKING:
    from collections.abc import Iterable

_SPECIAL = re.compile("[&<>\"']")


def safe(value: object) -> str:
    """The text escaped, unless it is markup already or has nothing to escape."""
    text = value if isinstance(value, str) else str(value)
    return text if isinstance(text, Markup) or not _SPECIAL.search(text) else str(escape(text))


def is_plain(texts: Iterable[str]) -> bool:
    """Whether nothing in these texts wants to be escaped."""
    return not _SPECIAL.search("".join(texts))


def filled(pattern: str, *values: object) -> Markup:
    """The pattern with a value at each ``{}``."""
    return Markup(pattern.format(*map(safe, values)))  # noqa: S704 - a pattern of ours, and escaped values


def joined(blocks: Iterable[object]) -> Markup:
    """Blocks one after another."""
    return Markup("".join(map(safe, blocks)))  # noqa: S704 - escaped blocks
