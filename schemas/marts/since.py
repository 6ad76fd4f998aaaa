"""The mart of returns to normal."""

from __future__ import annotations

from dataclasses import replace

from schemas.core.since import SESSION_SINCE
from schemas.tables import Table

MARTS: tuple[Table, ...] = (replace(SESSION_SINCE, name="mart_session_since"),)
