"""What reading a file gives: cells as text with the line of each row, rows that could not be split into cells, or why not."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt
import polars as pl

Lines = npt.NDArray[np.int64]
LOOKED_UP = "(names are looked up in mappings/names.toml and among the aliases of players)"
"""Said behind the column of a file that holds names of players."""


@dataclass(frozen=True)
class RowFault:
    """A row that could not be split into cells.

    Attributes
    ----------
    line : int
        Where it begins.
    rule : str
        Code of :mod:`pipelines.stages.intake.rules`.
    value : str
        Its first 200 characters.
    """

    line: int
    rule: str
    value: str


@dataclass(frozen=True)
class Plain:
    """Clean CSV text that can be parsed together with others of the same header: one line is one row.

    Attributes
    ----------
    header : tuple of str
    body : bytes
        The lines below the header, without the last line end.
    n_rows : int
    quoted : bool
        There are quotation marks in it.
    """

    header: tuple[str, ...]
    body: bytes
    n_rows: int
    quoted: bool = False


@dataclass(frozen=True)
class Cells:
    """A file that was split into cells.

    Attributes
    ----------
    header : tuple of str
        Column names as they stand in the file, trimmed; native names in lower case.
    rows : polars.DataFrame
        Text cells, empty = null, columns as ``header``.
    lines : array of int
        Line at which each row begins; the header of a native file is line 1.
    faults : tuple of RowFault
        Rows that could not be split.
    n_ignored : int
        Rows that the mapping leaves out.
    origin : dict
        Native column to the column in the file that it was taken from, where a mapping renamed it.
    originals : polars.DataFrame or None
        Cells as they stood in the file, under native names, where a mapping changed them.
    session : tuple
        What the sessions are that these shots imply; empty: they imply none.
    missing : tuple of str
        Columns that the mapping names and the file does not have.
    units : tuple of str
        Cells of the row of units below the header, which is no row; empty: there is none.
    above : tuple of tuple of str
        Cells of the lines above the header, which are no rows.
    other_sheets : tuple of str
        Sheets of the workbook that hold something and were not read.
    """

    header: tuple[str, ...]
    rows: pl.DataFrame
    lines: Lines
    faults: tuple[RowFault, ...] = ()
    n_ignored: int = 0
    origin: dict[str, str] = field(default_factory=dict)
    originals: pl.DataFrame | None = None
    session: tuple[tuple[str, str], ...] = ()
    missing: tuple[str, ...] = ()
    units: tuple[str, ...] = ()
    above: tuple[tuple[str, ...], ...] = ()
    other_sheets: tuple[str, ...] = ()

    @property
    def n_rows(self) -> int:
        """Rows of the file: those split into cells and those that could not be."""
        return self.rows.height + len(self.faults)


@dataclass(frozen=True)
class Unread:
    """A file that is held as a whole.

    Attributes
    ----------
    rule : str
        Code of :mod:`pipelines.stages.intake.rules`.
    value : str
        What stood there, or the first words of the fault.
    column : str
    n_rows : int
        Rows, as far as they could be counted.
    hint : str
        What to do, where more can be said than the rule says.
    """

    rule: str
    value: str = ""
    column: str = ""
    n_rows: int = 0
    hint: str = ""


def without_empty(cells: Cells) -> Cells:
    """Without columns that have neither a name nor a value: separators too many, as spreadsheets write them."""
    unnamed = {name for place, name in enumerate(cells.header, 1) if name == f"column {place}"}
    empty = unnamed and {name for name in unnamed if cells.rows[name].null_count() == cells.rows.height}
    if not empty:
        return cells
    return replace(cells, header=tuple(name for name in cells.header if name not in empty), rows=cells.rows.drop(empty))


def text_frame(header: tuple[str, ...], rows: list[list[str]]) -> pl.DataFrame:
    """Rows of text as a frame of text; empty cells become null."""
    columns = list(zip(*rows, strict=True)) if rows else [() for _ in header]
    frame = pl.DataFrame([pl.Series(name, cells, dtype=pl.String) for name, cells in zip(header, columns, strict=True)])
    return frame.with_columns(pl.all().replace({"": None})) if rows else frame
