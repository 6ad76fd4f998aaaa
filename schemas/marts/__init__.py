"""Contracts of the marts: what pages, commands and exports may read. A mart's name says its grain."""

from __future__ import annotations

import importlib
import pkgutil
from functools import cache

from schemas.tables import Table


@cache
def marts() -> dict[str, Table]:
    """Every mart by name: the ``MARTS`` of every module of this package."""
    modules = sorted(module.name for module in pkgutil.iter_modules(__path__))
    return {mart.name: mart for name in modules for mart in importlib.import_module(f"{__name__}.{name}").MARTS}
