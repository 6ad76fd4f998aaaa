"""Contracts of the tables of the warehouse: one per kind of file with provenance, the ledger, and the derived tables."""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache

from schemas.tables import Table


@cache
def core_tables() -> dict[str, Table]:
    """Every table by name: the ``TABLES`` of every module of this package."""
    modules = sorted(module.name for module in pkgutil.iter_modules(__path__))
    return {table.name: table for name in modules for table in importlib.import_module(f"{__name__}.{name}").TABLES}
