"""Nested data as flat rows: fields of fields get dotted names, one list becomes the rows, other lists are left out."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from pipelines.stages.intake.json_values import json_cell, named_once, shown_line
from pipelines.stages.intake.table import Cells, RowFault, Unread

if TYPE_CHECKING:
    from collections.abc import Iterator

    Row = dict[str, str | None]


def _cell(value: Any) -> str | None:
    """A plain value as native text; what nested Parquet holds beside them, days and instants, as it writes itself."""
    return json_cell(value if value is None or isinstance(value, (str, bool, int, float)) else str(value))


def _flat(name: str, value: Any) -> Iterator[tuple[str, str | None]]:
    """A field and the fields in it; a list is told, not taken."""
    if isinstance(value, dict):
        for key, item in value.items():
            yield from _flat(f"{name}.{key.strip()}", item)
    elif isinstance(value, list):
        yield name, f"[list of {len(value)}]"
    else:
        yield name, _cell(value)


def _expanded(value: Any, steps: list[str], prefix: str, outer: Row) -> Iterator[Row]:
    """The rows of one object: itself, or the elements of the list that the steps lead to."""
    if not isinstance(value, dict):
        raise TypeError(type(value).__name__)
    row = dict(outer)
    for key, item in value.items():
        if not steps or key != steps[0]:
            row.update(_flat(f"{prefix}{key.strip()}", item))
    if not steps:
        yield row
        return
    inner = value.get(steps[0])
    for item in inner if isinstance(inner, list) else [] if inner is None else [inner]:
        yield from _expanded(item, steps[1:], f"{prefix}{steps[0]}.", row)


def lists_in(value: Any, prefix: str = "") -> list[str]:
    """The ways to all lists of objects in a document: what a mapping's ``rows`` may be."""
    if isinstance(value, list):
        return lists_in(value[0], prefix) if value else []
    if not isinstance(value, dict):
        return []
    found = []
    for key, item in value.items():
        if isinstance(item, list) and item and isinstance(item[0], dict):
            found.append(f"{prefix}{key}")
        found += lists_in(item, f"{prefix}{key}.")
    return found


def _lines(data: bytes) -> Iterator[tuple[int, Any | RowFault]]:
    """Each line's object, or why it is none."""
    for at, line in enumerate(data.split(b"\n"), 1):
        if not line.strip():
            continue
        if b"\0" in line:
            yield at, RowFault(at, "nul_byte", shown_line(line))
            continue
        try:
            yield at, json.loads(line.decode(), object_pairs_hook=named_once)
        except UnicodeDecodeError:
            yield at, RowFault(at, "bad_encoding", shown_line(line))
        except (ValueError, RecursionError):
            yield at, RowFault(at, "not_json", shown_line(line))


def document(data: bytes) -> Any | None:
    """A file that is one JSON document, a list or an object over several lines; None when it is not."""
    try:
        return json.loads(data.decode("utf-8-sig"), object_pairs_hook=named_once)
    except (ValueError, RecursionError):
        return None


def _items(data: bytes, *, whole: bool) -> Iterator[tuple[int, Any | RowFault]]:
    """Objects with their lines; in one document they are counted instead."""
    found = document(data) if whole else None
    if isinstance(found, list):
        yield from enumerate(found, 1)
    elif isinstance(found, dict):
        yield 1, found
    else:
        yield from _lines(data.removeprefix(b"\xef\xbb\xbf"))


def nested_json(data: bytes, way: str, *, whole: bool, native: bool = False) -> Cells | Unread:
    """The rows of JSON Lines or of one JSON document, nested or not.

    Parameters
    ----------
    data : bytes
    way : str
        Dotted way to the list that holds the rows; empty: each object is a row.
    whole : bool
        The file may be one document; its rows are counted from 1 instead of lines.
    native : bool
        Names are ours: upper and lower case are the same.
    """
    if not data.strip():
        return Unread("empty_file")
    rows: list[Row] = []
    lines: list[int] = []
    faults: list[RowFault] = []
    steps = way.split(".") if way else []
    for at, item in _items(data, whole=whole):
        if isinstance(item, RowFault):
            faults.append(item)
            continue
        try:
            made = list(_expanded(item, steps, "", {}))
            "".join(name for row in made for name in row).encode()
        except UnicodeError:
            faults.append(RowFault(at, "bad_encoding", ascii(item)[:200]))
            continue
        except (TypeError, RecursionError):
            faults.append(RowFault(at, "not_json", ascii(item)[:200]))
            continue
        lines += range(len(rows) + 1, len(rows) + len(made) + 1) if whole else [at] * len(made)
        rows += [{name.lower(): cell for name, cell in row.items()} if native else row for row in made]
    return _framed(rows, lines, faults, way)


def _framed(rows: list[Row], lines: list[int], faults: list[RowFault], way: str) -> Cells | Unread:
    header = tuple(dict.fromkeys(name for row in rows for name in row))
    if not header:
        if way and not faults:
            return Unread("column_missing", way, way, hint=f"Nothing was found at rows = {way!r}: correct it in the mapping.")
        return Unread("not_readable", faults[0].value if faults else "", n_rows=len(faults) or len(rows))
    frame = pl.DataFrame({name: pl.Series([row.get(name) for row in rows], dtype=pl.String) for name in header})
    return Cells(header, frame, np.array(lines, dtype=np.int64), tuple(faults))


def _unnested(frame: pl.DataFrame) -> pl.DataFrame:
    """Structs as columns with dotted names, however deep."""
    columns: list[pl.Series] = []
    for column in frame.get_columns():
        if isinstance(column.dtype, pl.Struct):
            inner = _unnested(column.struct.unnest())
            columns += [part.alias(f"{column.name}.{part.name}") for part in inner.get_columns()]
        else:
            columns.append(column)
    return pl.DataFrame(columns)


def flat_frame(frame: pl.DataFrame, way: str, most_rows: int) -> pl.DataFrame:
    """A nested frame as flat columns; the list at the way becomes the rows, other lists are told, not taken.

    Raises
    ------
    ValueError
        When there is no list at the way, or too many rows in it.
    """
    frame = _unnested(frame)
    prefix = ""
    for step in way.split(".") if way else []:
        prefix += step
        if prefix in frame.columns and isinstance(frame[prefix].dtype, pl.List):
            if int(frame[prefix].list.len().sum() or 0) > most_rows:
                raise ValueError(f"more than {most_rows} rows in {prefix}")
            frame = _unnested(frame.filter(pl.col(prefix).list.len() > 0).explode(prefix))
        elif not any(name.startswith(f"{prefix}.") for name in frame.columns):
            raise ValueError(f"no list at rows = {way!r}")
        prefix += "."
    told = [
        pl.concat_str(pl.lit("[list of "), pl.col(name).list.len(), pl.lit("]")).alias(name)
        for name, kind in frame.schema.items()
        if isinstance(kind, pl.List)
    ]
    return frame.with_columns(told)
