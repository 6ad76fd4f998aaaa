"""Names of the columns of a foreign table: from one line, from two, or from none; none stands twice."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence


def numbered(names: Sequence[str]) -> tuple[str, ...]:
    """Names that stand several times with a number behind them, all others as they are."""
    often = Counter(names)
    seen: Counter[str] = Counter()
    found = []
    for name in names:
        seen[name] += 1
        found.append(f"{name} ({seen[name]})" if often[name] > 1 else name)
    return tuple(found)


def header_names(rows: Sequence[Sequence[str | None]], width: int) -> tuple[str, ...]:
    """Column names from the lines of a header.

    Parameters
    ----------
    rows : sequence of rows
        None, one or two lines. Of two, the upper holds names of groups: one goes on over the empty cells to its right.
    width : int
        Columns to name where there is no line.
    """
    lines = [[(cell or "").strip() for cell in row] for row in rows]
    width = max((len(line) for line in lines), default=width)
    lines = [[*line, *[""] * (width - len(line))] for line in lines]
    names = _joined(*lines) if len(lines) == 2 else lines[0] if lines else [""] * width
    while lines and names and not names[-1]:
        names.pop()
    return numbered([name or f"column {place}" for place, name in enumerate(names, 1)])


def _joined(upper: list[str], lower: list[str]) -> list[str]:
    names, group = [], ""
    for above, below in zip(upper, lower, strict=True):
        if above:
            group = above if below else ""
        names.append(f"{above or (group if below else '')} {below}".strip())
    return names
