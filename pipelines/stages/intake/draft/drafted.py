"""What is drafted: one column of ours, and what all columns of a table share."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pipelines.stages.intake.draft.layout import Layout


@dataclass(frozen=True)
class DraftedColumn:
    """One column of ours, as drafted.

    Attributes
    ----------
    target : str
        Our column; ``date`` and ``time`` until they are joined.
    sources : tuple of str
        Columns of the file.
    sure : bool
    why : str
        What is not sure, or what was assumed.
    unit, template, duration, left, right, cut, decimal : str
    formats, plus, minus : tuple of str
    scale : tuple of float
    words : dict
    strange : tuple of str
        Words of the file that nothing is known of.
    number_rows, reverse, names, by_hand : bool
        As in a mapping.
    """

    target: str
    sources: tuple[str, ...] = ()
    sure: bool = True
    why: str = ""
    unit: str = ""
    formats: tuple[str, ...] = ()
    plus: tuple[str, ...] = ()
    minus: tuple[str, ...] = ()
    words: dict[str, str] = field(default_factory=dict)
    template: str = ""
    number_rows: bool = False
    duration: str = ""
    scale: tuple[float, ...] = ()
    reverse: bool = False
    names: bool = False
    by_hand: bool = False
    left: str = ""
    right: str = ""
    cut: str = ""
    decimal: str = ""
    strange: tuple[str, ...] = ()

    def doubted(self, why: str) -> DraftedColumn:
        """The same column, no longer sure."""
        return replace(self, sure=False, why=f"{self.why}; {why}" if self.why and not self.sure else why)

    def noted(self, why: str) -> DraftedColumn:
        """The same column with a remark, as sure as before."""
        return replace(self, why=f"{self.why}; {why}" if self.why else why)


@dataclass(frozen=True)
class Drafting:
    """What all columns of a table share.

    Attributes
    ----------
    layout : Layout
    kind : str
    signs : tuple of str
        Decimal sign and sign between thousands.
    signs_sure : bool
    remarks : list of str
        Lines that may speak of units and scales.
    units : dict
        Quantity to the unit that a line above the header names.
    is_native : bool
        Most headers are names of ours.
    order : str
        ``dmy`` or ``mdy`` where the file shows in which order day and month stand.
    sessions : str
        Kind of the sessions that shots make; empty: they come in a file of their own.
    """

    layout: Layout
    kind: str
    signs: tuple[str, str]
    signs_sure: bool
    remarks: list[str]
    units: dict[str, str]
    is_native: bool
    order: str = ""
    sessions: str = "range"

    def numbers(self, cells: list[str]) -> list[float]:
        """The numbers of a column as its signs read them."""
        decimal, thousands = self.signs
        found = []
        for cell in cells:
            match = re.search(r"[+\-]?\d[\d.,' ]*|[+\-]?[.,]\d+", re.sub("[\u00a0\u202f]", "", cell.replace("−", "-")))
            try:
                text = match[0].strip().replace(" ", "").replace("'", "") if match else ""
                found.append(float((text.replace(thousands, "") if thousands else text).replace(decimal, ".")))
            except ValueError:
                continue
        return found
