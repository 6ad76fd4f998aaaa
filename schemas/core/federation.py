"""Tables of what a federation gives back."""

from __future__ import annotations

from schemas.shared import FEDERATION_NORM
from schemas.tables import Table

TABLES: tuple[Table, ...] = (FEDERATION_NORM,)
