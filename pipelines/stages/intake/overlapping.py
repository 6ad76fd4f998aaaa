"""What a file that was just loaded has replaced, or stands behind: a correction is told as one, and so is an old copy."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from warehouse.deliveries import overlaps

if TYPE_CHECKING:
    import duckdb

    from schemas.results import FileOutcome


def with_overlaps(con: duckdb.DuckDBPyConnection, outcomes: list[FileOutcome]) -> list[FileOutcome]:
    """The outcomes of loaded files, with a note of the rows that they share with others; a note that is there stays."""
    loaded = [one.file_id for one in outcomes if one.status == "loaded" and not one.note]
    if not loaded:
        return outcomes
    told: dict[str, list[str]] = {}
    for file_id, n, other, is_newer in overlaps(con, loaded).iter_rows():
        rows = "1 row" if n == 1 else f"{n} rows"
        line = f"{rows} there newer, in {other}" if is_newer else f"replaces {rows} of {other}"
        told.setdefault(file_id, []).append(line)
    return [replace(one, note="; ".join(told[one.file_id])) if one.file_id in told and not one.note else one for one in outcomes]
