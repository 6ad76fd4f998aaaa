"""Published tables carried as data: each CSV names its source in its first lines."""

from __future__ import annotations

from functools import cache
from importlib import resources
from io import BytesIO

import polars as pl


@cache
def published_table(name: str) -> pl.DataFrame:
    """One published table by file name without ``.csv``; lines that begin with ``#`` are its source.

    Raises
    ------
    FileNotFoundError
        When speedworth carries no such table.
    """
    data = resources.files(__package__).joinpath(f"{name}.csv").read_bytes()
    return pl.read_csv(BytesIO(data), comment_prefix="#")
