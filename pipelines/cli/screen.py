"""What commands print: results on standard output, progress and remarks on standard error."""

from __future__ import annotations

import sys
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence


@dataclass(frozen=True)
class Screen:
    """Where a command writes.

    Attributes
    ----------
    quiet : bool
        Print results only.
    """

    quiet: bool = False

    def result(self, text: str) -> None:
        """One line of what was asked for."""
        print(text)

    def remark(self, text: str) -> None:
        """One line beside the result."""
        if not self.quiet:
            print(text, file=sys.stderr)

    def table(self, headers: Sequence[str], rows: Sequence[Sequence[object]], numbers: Sequence[str] = ()) -> None:
        """A table for reading; columns named in ``numbers`` stand to the right."""
        from rich.console import Console
        from rich.table import Table

        table = Table(box=None, pad_edge=False, header_style="bold")
        for header in headers:
            table.add_column(header, justify="right" if header in numbers else "left", overflow="fold")
        for row in rows:
            table.add_row(*(_plain(cell) for cell in row))
        Console(highlight=False, markup=False, width=None if sys.stdout.isatty() else 160).print(table)

    @contextmanager
    def steps(self) -> Iterator[Callable[[str], None]]:
        """A function to call with the name of each step as it begins; shown with a moving mark on a terminal."""
        if self.quiet:
            yield lambda _: None
        elif not sys.stderr.isatty():
            yield self.remark
        else:
            yield from _moving_steps()


def _plain(cell: object) -> str:
    """Text of a cell; control characters of a file's text do not reach the terminal."""
    text = "" if cell is None else str(cell)
    return "".join(letter if letter.isprintable() else " " for letter in text)


def _moving_steps() -> Iterator[Callable[[str], None]]:
    from rich.console import Console
    from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn

    columns = (SpinnerColumn(), TextColumn("{task.description}", markup=False), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True, markup=False), transient=True) as progress:
        task = progress.add_task("", total=None)
        yield lambda step: progress.update(task, description=step)
