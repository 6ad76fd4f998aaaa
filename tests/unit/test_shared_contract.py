"""Each rule of the shared files has a row that breaks it, and nothing else."""

from __future__ import annotations

import datetime as dt
from itertools import pairwise
from typing import Any

import polars as pl
import pytest

from schemas.shared import AGE_BANDS, FEDERATION_NORM, RULES, SHARED_BLOCK, SHARED_LEVEL, SHARED_QUALITY, age_band
from schemas.shared_contract import broken_rule

MARCH = dt.date(2026, 3, 1)
WHERE: dict[str, Any] = {"academy": "lakeside", "month_on": MARCH}
WHOM: dict[str, Any] = {"sex": "female", "age_band": "18_24", "standard": "80", "n_persons": 8}
SPEED: dict[str, Any] = {"speed_centre_mps": 40.0, "speed_spread_pct": 7.0}
RIGHT = {
    SHARED_LEVEL.name: WHERE | WHOM | SPEED | {"cohort": 1},
    SHARED_BLOCK.name: WHERE | {"batch": 1, "n_persons": 6, "n_blocks": 7, "effect_pct": 2.0, "error_pct": 0.5},
    SHARED_QUALITY.name: WHERE | {"n_files": 3},
    FEDERATION_NORM.name: {"month_on": MARCH, **WHOM, **SPEED, "n_academies": 2}
    | {f"speed_p{share}_mps": 30.0 + share / 10 for share in (10, 25, 50, 75, 90)},
}
TABLES = {table.name: table for table in (SHARED_LEVEL, SHARED_BLOCK, SHARED_QUALITY, FEDERATION_NORM)}
WRONG: dict[str, dict[str, Any]] = {
    "academy_unsafe": {"academy": "../x"},
    "month_not_first": {"month_on": dt.date(2026, 3, 2)},
    "too_few_persons": {"n_persons": 4},
    "sex_unknown": {"sex": "m"},
    "age_band_unknown": {"age_band": "young"},
    "standard_unknown": {"standard": "85"},
    "speed_centre_mps_out_of_range": {"speed_centre_mps": 90.0},
    "speed_spread_pct_out_of_range": {"speed_spread_pct": -1.0},
    "growth_pct_out_of_range": {"growth_pct": 61.0, "since_on": MARCH},
    "growth_spread_pct_out_of_range": {"growth_spread_pct": -0.1},
    "scatter_centre_m_out_of_range": {"scatter_centre_m": 0.1},
    "scatter_spread_pct_out_of_range": {"scatter_spread_pct": 201.0},
    "growth_without_month": {"growth_pct": 1.0},
    "fewer_blocks_than_persons": {"n_blocks": 5},
    "effect_pct_out_of_range": {"effect_pct": 31.0},
    "error_pct_out_of_range": {"error_pct": 0.0},
    "n_files_out_of_range": {"n_files": -1},
    "quarantined_pct_out_of_range": {"quarantined_pct": 101.0},
    "device_named_pct_out_of_range": {"device_named_pct": -1.0},
    "ball_speed_pct_out_of_range": {"ball_speed_pct": 101.0},
    "side_pct_out_of_range": {"side_pct": 101.0},
    "percentiles_out_of_order": {"speed_p10_mps": 50.0},
}


def frame(table: str, *rows: dict[str, Any]) -> pl.DataFrame:
    return pl.DataFrame(list(rows), schema=TABLES[table].polars_schema(), orient="row")


@pytest.mark.parametrize("table", TABLES)
def test_rows_that_keep_the_contract_pass(table: str) -> None:
    assert broken_rule(TABLES[table], frame(table, RIGHT[table])) == ""
    assert broken_rule(TABLES[table], frame(table)) == ""


@pytest.mark.parametrize(("table", "code"), [(table, rule.code) for table, rules in RULES.items() for rule in rules])
def test_a_row_that_breaks_a_rule_is_told_by_it_with_what_to_do(table: str, code: str) -> None:
    told = broken_rule(TABLES[table], frame(table, RIGHT[table] | WRONG[code]))
    (rule,) = (one for one in RULES[table] if one.code == code)
    assert told.startswith(f"{code}: {rule.columns[0]} must be {rule.allowed}")
    assert told.endswith(rule.hint)


@pytest.mark.parametrize(
    ("table", "column"), [(name, column.name) for name, table in TABLES.items() for column in table.columns if column.required]
)
def test_a_required_value_may_not_be_missing(table: str, column: str) -> None:
    assert "missing" in broken_rule(TABLES[table], frame(table, RIGHT[table] | {column: None}))


@pytest.mark.parametrize("table", TABLES)
def test_two_rows_of_one_grain_and_other_columns_are_refused(table: str) -> None:
    right = frame(table, RIGHT[table])
    assert "same" in broken_rule(TABLES[table], pl.concat([right, right]))
    assert "columns" in broken_rule(TABLES[table], right.with_columns(note=pl.lit("x")))
    assert "columns" in broken_rule(TABLES[table], right.with_columns(pl.col("month_on").cast(pl.String)))


def test_age_bands_meet_and_say_nothing_of_an_unknown_year() -> None:
    assert [age_band(2026 - age, 2026) for age in (13, 14, 15, 17, 18, 24, 25, 39, 40, 54, 55, 90)] == [
        *("to_13", "14_15", "14_15", "16_17", "18_24", "18_24", "25_39", "25_39", "40_54", "40_54", "55_up", "55_up")
    ]
    assert age_band(None, 2026) is None
    bounds = list(AGE_BANDS.values())
    assert all(before[1] + 1 == after[0] for before, after in pairwise(bounds))
