"""What a draft finds outside the rows: in the file's name and in the lines above the header."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Captures:
    """Values that stand outside the rows.

    Attributes
    ----------
    file_name : str
        Pattern for the file's name; empty when it holds nothing.
    heading : tuple
        Line and pattern.
    names : frozenset of str
        Groups that the patterns find.
    day_form : str
        Form of a captured day; empty when there is none.
    """

    file_name: str
    heading: tuple[tuple[int, str], ...]
    names: frozenset[str]
