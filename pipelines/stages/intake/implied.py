"""Sessions that a device's export of shots implies: a mapping may say what they are, their shots say when and whose."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.stages.intake.cast import typed
from pipelines.stages.intake.table import Cells
from schemas.files import KINDS

if TYPE_CHECKING:
    from pipelines.stages.intake.batch import Incoming, Rows


def _implying(batch: list[Incoming]) -> dict[int, tuple[tuple[str, str], ...]]:
    contents = {place: incoming.content for place, incoming in enumerate(batch)}
    return {place: content.session for place, content in contents.items() if isinstance(content, Cells) and content.session}


def sessions_in_rows(batch: list[Incoming], rows: Rows, there: pl.DataFrame) -> pl.DataFrame:
    """The known sessions, and those that files of this batch will make."""
    places = list(_implying(batch))
    if not places:
        return there
    cells = rows.cells.filter(rows.file.is_in(places))
    new = (
        cells.select(pl.col("session_id", "player_id").str.strip_chars())
        .drop_nulls()
        .unique("session_id", keep="first", maintain_order=True)
    )
    new = new.join(there, on="session_id", how="anti", maintain_order="left")
    return pl.concat([there, new.with_columns(pl.lit(None, dtype=pl.Datetime("us")).alias("started_at"))])


def implied_sessions(batch: list[Incoming], good: pl.DataFrame, ids: pl.Series, time_zone: str) -> pl.DataFrame:
    """Rows of the session table for the good shots of files whose mapping makes sessions; each begins with its first shot."""
    kind = KINDS["sessions"]
    made = [pl.DataFrame(schema={**kind.polars_schema(), "file_id": pl.String(), "line": pl.Int64()})]
    for place, constants in _implying(batch).items():
        first = (
            good.filter(pl.col("file") == place)
            .group_by("session_id", maintain_order=True)
            .agg(pl.col("player_id").first(), pl.col("struck_at").min().alias("started_at"), pl.col("line").min())
        )
        values, _ = typed(kind, pl.DataFrame({name: [value] for name, value in constants}), time_zone)
        rest = values.drop("session_id", "player_id", "started_at")
        rows = first.join(rest, how="cross").with_columns(pl.lit(ids[place]).alias("file_id"))
        made.append(rows.select(made[0].columns))
    return pl.concat(made)
