"""What one entry of the bibliography holds."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Known = Literal["read", "read in abstract", "second-hand", "from memory", "derived here", "common practice"]


@dataclass(frozen=True)
class Reference:
    """One source, with how its values are known.

    Attributes
    ----------
    key : str
        How docstrings and tests cite it, e.g. ``Penner2001``.
    authors, title, journal : str
        As printed; journal with volume and pages. Empty when there is none (common practice).
    year : int or None
    doi : str
        Empty when there is none.
    known : str
        ``read``: the value was read in the source. ``read in abstract``: in its abstract.
        ``second-hand``: in a text that quotes it. ``from memory``: not seen; to be verified.
        ``derived here``: computed from a formula. ``common practice``: a fact of the trade without a source.
    used_for : str
        One sentence: what speedworth takes from it.
    """

    key: str
    authors: str
    year: int | None
    title: str
    journal: str
    doi: str
    known: Known
    used_for: str
