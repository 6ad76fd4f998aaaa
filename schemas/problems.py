"""A row fault as data: where it is, what is wrong, what is allowed, what to do. A frame of problems holds one a row."""

from __future__ import annotations

import polars as pl

FINDING_SCHEMA: dict[str, pl.DataType] = {
    "column": pl.String(),  # column name, or "" for the whole row or file
    "value": pl.String(),  # what stood there, as text, at most 200 characters
    "rule": pl.String(),  # stable code of the rule, e.g. out_of_range
    "allowed": pl.String(),  # what is allowed, in words
    "hint": pl.String(),  # what a person can do about it
    # error: the row went to quarantine; emptied: the cell was emptied and the row loaded;
    # warning: the row was loaded and the doubt is kept with it; held: the whole file was held
    "severity": pl.String(),
}
"""What is wrong and what to do, without the place."""

PROBLEM_SCHEMA: dict[str, pl.DataType] = {
    "file": pl.String(),  # name of the file as it was dropped
    "line": pl.Int64(),  # line in the file, the header being line 1; null: the whole file
    **FINDING_SCHEMA,
}
"""A frame of problems has these columns in this order."""
