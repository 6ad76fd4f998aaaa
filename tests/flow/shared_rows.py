"""What four invented academies shared with their federation, as files: for tests of the roll-up and of its pages."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import fsspec
import numpy as np
import polars as pl

from schemas.academy import Academy, Units
from schemas.shared import SHARED_BLOCK, SHARED_LEVEL, SHARED_QUALITY

if TYPE_CHECKING:
    from pipelines.stages.shared_folder import SharedFolder

MONTHS = [dt.date(2025, month, 1) for month in range(6, 13)] + [dt.date(2026, 1, 1), dt.date(2026, 2, 1)]
LOOK = Academy("The Coast", "UTC", "en", Units("m/s", "m"))
NAMES = ("east", "north", "south", "west")
TODAY = dt.date(2026, 3, 9)


def cohorts(name: str, seed: int) -> pl.DataFrame:
    """Months of three cohorts of an academy: speeds grow by 3 % a year, women's are lower."""
    rng = np.random.default_rng(seed)
    rows = []
    for number, (sex, band, standard, speed) in enumerate(
        (("male", "16_17", "scratch", 48.0), ("male", "25_39", "80", 45.0), ("female", "16_17", "80", 40.0)), start=1
    ):
        first = speed * float(np.exp(0.02 * rng.standard_normal()))
        n = int(rng.integers(7, 11))
        for at, month_on in enumerate(MONTHS):
            grown = round(first * float(np.exp(0.03 * at / 12)), 2)
            since = {"since_on": MONTHS[0], "growth_pct": round(3.0 * at / 12, 2), "growth_spread_pct": 1.5} if at else {}
            rows.append(
                {"academy": name, "month_on": month_on, "cohort": number, "sex": sex, "age_band": band, "standard": standard,
                 "n_persons": n, "speed_centre_mps": grown, "speed_spread_pct": 7.0, "scatter_centre_m": 13.0,
                 "scatter_spread_pct": 25.0} | since
            )  # fmt: skip
    return pl.DataFrame(rows, schema=SHARED_LEVEL.polars_schema(), orient="row")


def put(folder: SharedFolder, kind: str, rows: pl.DataFrame) -> None:
    for part in rows.partition_by("month_on", maintain_order=True):
        path = f"academy={part['academy'][0]}/month={part['month_on'][0]:%Y-%m}/{kind}.parquet"
        with fsspec.open(
            folder.address_of(path) if not folder.is_local else f"file://{folder.place(path)}", "wb", auto_mkdir=True
        ) as out:
            part.write_parquet(out)  # type: ignore[call-overload]


def fill(folder: SharedFolder) -> None:
    for seed, (name, effect) in enumerate(zip(NAMES, (2.1, 1.2, 3.0, 1.8), strict=True)):
        put(folder, "level", cohorts(name, seed))
        where = {"academy": name, "month_on": MONTHS[-1]}
        block = where | {"batch": 1, "n_persons": 6, "n_blocks": 7, "effect_pct": effect, "error_pct": 0.5}
        put(folder, "speed_block", pl.DataFrame([block], schema=SHARED_BLOCK.polars_schema(), orient="row"))
        quality = where | {"n_files": 12, "quarantined_pct": 2.0, "device_named_pct": 80.0}
        put(folder, "quality", pl.DataFrame([quality], schema=SHARED_QUALITY.polars_schema(), orient="row"))
