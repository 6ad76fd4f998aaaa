"""What a person says of a file that is drafted: its kind at least, at most what every column of it is."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pipelines.stages.intake.draft.headings import Heading

TOGETHER = "*"
"""What a column is that makes columns of ours only together with others: a region of the body for each, a test for each."""


@dataclass(frozen=True)
class Hints:
    """What a person who drafts says of the file.

    Attributes
    ----------
    kind : str
        Kind of file; empty: by its headers.
    columns : dict
        Column of ours to the column of the file.
    date : str
        Column of the file with the day or the time, whatever its kind calls it.
    sheet : str
        Sheet of a workbook; empty: every sheet with a table.
    roles : dict
        Every column of the file to the column of ours (or the part of one) that it is; empty: it is left out; ``TOGETHER``.
        No columns: the draft finds out.
    units : dict
        Column of the file to its unit.
    reversed_sides : dict
        Column of the file to whether left is positive in it.
    scales : dict
        Column of the file to the ends of its scale: none or best, and worst.
    words : dict
        Column of the file to what its words mean, in lower case; empty: nothing that is known.
    order : str
        ``dmy`` or ``mdy``; empty: as the file shows it.
    decimal : str
        Decimal sign; empty: as the file shows it.
    values : dict
        Column of ours to the value that it has in every row.
    sessions : str
        Kind of the sessions that shots make; empty: sessions come in a file of their own.
    """

    kind: str = ""
    columns: dict[str, str] = field(default_factory=dict)
    date: str = ""
    sheet: str = ""
    roles: dict[str, str] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    reversed_sides: dict[str, bool] = field(default_factory=dict)
    scales: dict[str, tuple[float, float]] = field(default_factory=dict)
    words: dict[str, dict[str, str]] = field(default_factory=dict)
    order: str = ""
    decimal: str = ""
    values: dict[str, str] = field(default_factory=dict)
    sessions: str = "range"

    def told(self, one: Heading) -> Heading:
        """A heading with the unit, the side, the scale and the words that were said of it."""
        return replace(
            one,
            unit=self.units.get(one.header, one.unit),
            is_reversed=self.reversed_sides.get(one.header),
            scale=self.scales.get(one.header, ()),
            words=self.words.get(one.header, {}),
        )
