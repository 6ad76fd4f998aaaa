"""The shape of an export: split into cells under names that each stand once, rows that are no rows left out, wide made long."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from pipelines.stages.intake.csv_text import Dialect, careful, cells_of_line, text_lines
from pipelines.stages.intake.header import header_names
from pipelines.stages.intake.nested import nested_json
from pipelines.stages.intake.other_formats import parquet_cells, sheet_cells
from pipelines.stages.intake.table import Cells, Unread

if TYPE_CHECKING:
    from pipelines.stages.intake.mapping import LongRule, Mapping


def foreign_cells(mapping: Mapping, ending: str, data: bytes) -> Cells | Unread:
    """The export split into cells, under its own column names."""
    if ending == ".parquet":
        return parquet_cells(data, native=False, way=mapping.rows)
    if ending in {".jsonl", ".json"}:
        return nested_json(data, mapping.rows, whole=ending == ".json")
    if ending == ".xlsx":
        return sheet_cells(
            data,
            sheet=mapping.sheet or 0,
            header_line=mapping.skip_lines + mapping.header_lines,
            header_lines=mapping.header_lines,
            skip=int(mapping.units_row),
            native=False,
        )
    return _text_cells(mapping, data) if ending == ".csv" else Unread("unknown_format")


def _text_cells(mapping: Mapping, data: bytes) -> Cells | Unread:
    header_line = mapping.skip_lines + mapping.header_lines
    dialect = Dialect(mapping.delimiter, mapping.encoding, header_line, mapping.units_row, native=False)
    if mapping.header_lines == 1:
        read = careful(data, dialect)
        if not isinstance(read, Unread) or read.rule != "duplicate_header":
            return read
    lines = text_lines(data, mapping.encoding)
    if isinstance(lines, Unread):
        return lines
    below = lines[0][mapping.skip_lines :]
    rows = [cells_of_line(line, mapping.delimiter) for line in below[: max(mapping.header_lines, 1)]]
    width = len(rows[0]) if rows else 0
    return careful(data, replace(dialect, names=header_names(rows[: mapping.header_lines], width)))


def kept_rows(mapping: Mapping, cells: Cells) -> Cells:
    """Cells without rows that are to be left out, and with empty words emptied."""
    rows = cells.rows
    keep = pl.repeat(value=True, n=rows.height, dtype=pl.Boolean, eager=True)
    for column, words in mapping.ignore:
        if column in rows.columns:
            keep &= ~rows[column].fill_null("").str.to_lowercase().is_in([word.lower() for word in words])
    if mapping.empty:
        emptied = [word.lower() for word in mapping.empty]
        rows = rows.with_columns(pl.when(~pl.all().str.to_lowercase().is_in(emptied)).then(pl.all()))
    n_ignored = int((~keep).sum())
    return replace(cells, rows=rows.filter(keep), lines=cells.lines[keep.to_numpy()], n_ignored=n_ignored)


def long_rows(rule: LongRule, cells: Cells) -> Cells:
    """One row for each thing that a line tells about; things of which nothing is told make none."""
    used = set(rule.columns)
    rest = [name for name in cells.header if name not in used]
    parts: list[pl.DataFrame] = []
    for word, columns in rule.rows:
        values = [
            pl.col(column).alias(value) if column in cells.rows.columns else pl.lit(None, dtype=pl.String).alias(value)
            for value, column in zip(rule.values, columns, strict=True)
        ]
        part = cells.rows.with_columns(pl.Series("_line", cells.lines)).select(
            "_line", *rest, pl.lit(word).alias(rule.name), *values
        )
        parts.append(part.filter(pl.any_horizontal(pl.col(value).is_not_null() for value in rule.values)))
    rows = pl.concat(parts).sort("_line", maintain_order=True)
    lines = rows["_line"].to_numpy().astype(np.int64)
    made = rows.drop("_line")
    return replace(cells, header=tuple(made.columns), rows=made, lines=lines)
