"""Marts of what is usual in the federation."""

from __future__ import annotations

from dataclasses import replace

from schemas.core.trends import NORM
from schemas.shared import FEDERATION_NORM
from schemas.tables import Table

_OF_NORM = {column.name: column for column in NORM.columns}

USUAL_THERE = replace(
    FEDERATION_NORM, name="mart_federation_norm", grain=("sex", "age_band", "standard"), readers=("coach", "physio")
)

SPEED_NORM = Table(
    "mart_speed_norm",
    "What the squad takes for usual of driver speed now.",
    ("from_on",),
    tuple(_OF_NORM[name] for name in ("from_on", "worthwhile", "is_prior", "prior_on")),
    readers=("coach", "physio"),
)

MARTS: tuple[Table, ...] = (USUAL_THERE, SPEED_NORM)
