"""Small lines inside tables and sentences: drawn as plain SVG, all on one shared scale, with the same months across."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from markupsafe import Markup

from reports.markup import filled, joined

if TYPE_CHECKING:
    from collections.abc import Sequence

WIDTH, HEIGHT, EDGE = 132, 26, 3


@dataclass(frozen=True)
class Scale:
    """The shared scale: the span of values that the height stands for, around each line's own middle.

    Attributes
    ----------
    span : float
        Values, in the unit drawn, from bottom to top; the same for every line of a column.
    """

    span: float

    def height(self, value: float, middle: float) -> float:
        """Distance from the top in px, kept inside the picture."""
        share = 0.5 - (value - middle) / self.span
        return EDGE + min(1.0, max(0.0, share)) * (HEIGHT - 2 * EDGE)


def shared_scale(lines: Sequence[Sequence[float | None]]) -> Scale:
    """One scale for all lines: wide enough for the widest one, so that slopes can be compared."""
    spans = [max(known) - min(known) for line in lines if (known := [value for value in line if value is not None])]
    return Scale(max([*spans, 1e-9]) or 1.0)


def _points(values: Sequence[float | None], scale: Scale) -> list[list[str]]:
    known = [value for value in values if value is not None]
    middle = (max(known) + min(known)) / 2
    step = (WIDTH - 2 * EDGE) / max(len(values) - 1, 1)
    runs: list[list[str]] = [[]]
    for index, value in enumerate(values):
        if value is None:
            runs.append([])
        else:
            runs[-1].append(f"{EDGE + index * step:.1f},{scale.height(value, middle):.1f}")
    return [run for run in runs if run]


def sparkline(values: Sequence[float | None], scale: Scale, alt: str) -> Markup:
    """A small line, gaps where a value is missing, a dot at its end.

    Parameters
    ----------
    values : sequence of float or None
        One for each of the same months, oldest first.
    scale : Scale
        From :func:`shared_scale` over all lines of the column.
    alt : str
        What it shows, in words.
    """
    if not any(value is not None for value in values):
        return Markup("")
    runs = _points(values, scale)
    lines = joined(filled('<polyline points="{}"/>', " ".join(run)) for run in runs if len(run) > 1)
    dots = joined(filled('<circle cx="{}" cy="{}" r="1.2"/>', *run[0].split(",")) for run in runs if len(run) == 1)
    x, y = runs[-1][-1].split(",")
    return filled(
        '<svg class="spark" role="img" aria-label="{}" viewBox="0 0 {} {}">{}{}'
        '<circle class="end" cx="{}" cy="{}" r="2.6"/></svg>',
        *(alt, WIDTH, HEIGHT, lines, dots, x, y),
    )
