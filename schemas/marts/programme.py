"""Marts of season phases: planned and done, and what went along with them."""

from __future__ import annotations

from dataclasses import replace

from schemas.core.programme import PHASE, PHASE_STROKE
from schemas.tables import Table

MARTS: tuple[Table, ...] = (
    replace(PHASE, name="mart_phase"),
    replace(PHASE_STROKE, name="mart_phase_stroke", readers=("coach",)),
)
