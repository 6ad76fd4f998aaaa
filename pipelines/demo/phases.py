"""Season phases: the calendar of the academy, and the blocks in which single players do something else."""

from __future__ import annotations

from datetime import date

import numpy as np
from numpy.typing import NDArray

from pipelines.demo.cast import LAST_ON, START_ON
from pipelines.demo.effects import N_DAYS, day_number

CALENDAR: tuple[tuple[date, str], ...] = (
    (START_ON, "base"),
    (date(2024, 4, 29), "play"),
    (date(2024, 10, 14), "off season"),
    (date(2025, 1, 13), "base"),
    (date(2025, 4, 28), "play"),
    (date(2025, 10, 13), "off season"),
    (date(2026, 1, 12), "base"),
    (date(2026, 5, 4), "play"),
)

BLOCKS: tuple[tuple[str, date, date, str], ...] = (
    ("p02", date(2025, 1, 13), date(2025, 3, 10), "speed block"),
    ("p14", date(2025, 1, 13), date(2025, 3, 10), "speed block"),
    ("p05", date(2025, 4, 21), date(2025, 6, 16), "technique block"),
    ("p01", date(2025, 11, 3), date(2026, 1, 26), "body block"),
    ("p09", date(2025, 11, 3), date(2026, 1, 26), "body block"),
    ("p06", date(2025, 11, 10), date(2026, 3, 2), "speed block"),
    ("p15", date(2026, 1, 12), date(2026, 2, 9), "speed block"),
    ("p19", date(2026, 1, 12), date(2026, 3, 9), "speed block"),
    ("p02", date(2026, 1, 12), date(2026, 3, 9), "speed block"),
    ("p16", date(2026, 4, 6), date(2026, 5, 18), "speed block"),
    ("p20", date(2026, 5, 11), date(2026, 7, 6), "technique block"),
    ("p04", date(2026, 6, 1), date(2026, 7, 27), "technique block"),
    ("p03", date(2026, 6, 8), date(2026, 6, 29), "technique block"),
    ("p01", date(2026, 8, 24), LAST_ON, "technique block"),
)
"""Player, first day, first day after, phase."""

NOT_PLANNED: frozenset[str] = frozenset({"p07", "p13", "p22", "p23"})
"""Players who practise without a written plan."""


def phase_line(player_id: str) -> NDArray[np.str_]:
    """The player's phase by day, shape (days,)."""
    line = np.full(N_DAYS, "", dtype="<U20")
    for first, phase in CALENDAR:
        line[day_number(first) :] = phase
    for who, first, after, phase in BLOCKS:
        if who == player_id:
            line[day_number(first) : day_number(after)] = phase
    return line
