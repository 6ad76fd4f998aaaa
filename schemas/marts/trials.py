"""Marts of technique trials."""

from __future__ import annotations

from dataclasses import replace

from schemas.core.trials import TABLES as CORE
from schemas.core.trials import TRIAL_BODY
from schemas.tables import Table

OF_THE_BODY: tuple[str, ...] = ("physio", "player")


def _mart(table: Table) -> Table:
    mart = replace(table, name=f"mart_{table.name}")
    return replace(mart, readers=OF_THE_BODY) if table is TRIAL_BODY else mart


MARTS: tuple[Table, ...] = tuple(_mart(table) for table in CORE)
"""Every derived table of a trial as it stands; what the players reported of their bodies is not for the coach."""
