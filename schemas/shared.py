"""What academies share with their federation, and what it gives back: contracts of the files in the shared folder.

Below the folder, one file a kind, academy and month, written once: ``academy=NAME/month=YYYY-MM/KIND.parquet``; and
``norms/norms.parquet``, which the federation writes. Nothing in them is about the body, and no row about fewer than five persons:
:mod:`pipelines.measures.federation.cohorts` says how that is kept.
"""

from __future__ import annotations

from types import MappingProxyType

import polars as pl

from schemas.fields import FIELDS, ID_PATTERN
from schemas.files.kind import RowRule
from schemas.tables import Column, Table, day, integer, known, number, text

FEWEST_SHARED = 5
"""Persons below whom a row is refused."""

AGE_BANDS: MappingProxyType[str, tuple[int, int]] = MappingProxyType(
    {
        "to_13": (0, 13),
        "14_15": (14, 15),
        "16_17": (16, 17),
        "18_24": (18, 24),
        "25_39": (25, 39),
        "40_54": (40, 54),
        "55_up": (55, 130),
    }
)
"""Name to first and last age, as reached in the calendar year. Own choice: fine where speed grows, wide where it stays."""


def age_band(birth_year: int | None, year: int) -> str | None:
    """Name of the band of somebody who reaches an age in that year; None when the year of birth is not known."""
    if birth_year is None:
        return None
    age = year - birth_year
    return next((name for name, (first, last) in AGE_BANDS.items() if first <= age <= last), None)


def _of_whom(n: str) -> tuple[Column, ...]:
    return (
        *known("sex"),
        text("age_band", "Age that is reached in the calendar year; null: mixed, or not known."),
        *known("standard"),
        integer("n_persons", n, required=True),
    )


_WHERE = (
    text("academy", "Name of the academy in the federation.", required=True),
    day("month_on", "First day of the month.", required=True),
)

SHARED_LEVEL = Table(
    "shared_level",
    "Driver speed and scatter of one cohort of an academy at the end of one month.",
    ("academy", "month_on", "cohort"),
    (
        *_WHERE,
        integer("cohort", "Number of the cohort in the academy: always the same persons.", required=True),
        *_of_whom("Persons of the cohort."),
        number("speed_centre_mps", "m/s", "Geometric mean of their levels of club speed.", required=True),
        number("speed_spread_pct", "%", "Standard deviation between them.", required=True),
        day("since_on", "Month to which growth is compared; null: nothing was shared before."),
        number("growth_pct", "%", "Change of the centre since then."),
        number("growth_spread_pct", "%", "Standard deviation of their changes; null: not all have swung since."),
        number("scatter_centre_m", "m", "Geometric mean of their left-right scatter; null: not known of all of them."),
        number("scatter_spread_pct", "%", "Standard deviation between them."),
    ),
)

SHARED_BLOCK = Table(
    "shared_block",
    "What speed blocks that were over in one month had brought, as one estimate of an academy; each block counts once.",
    ("academy", "month_on", "batch"),
    (
        *_WHERE,
        integer("batch", "Number of the estimate in the academy.", required=True),
        integer("n_persons", "Persons.", required=True),
        integer("n_blocks", "Speed blocks.", required=True),
        number("effect_pct", "%", "Driver speed at the end of the block against before it, mean over persons.", required=True),
        number("error_pct", "%", "Its standard error.", required=True),
    ),
)

SHARED_QUALITY = Table(
    "shared_quality",
    "How complete the data of one academy and month are, in whole per cents: no sums can be formed of them.",
    ("academy", "month_on"),
    (
        *_WHERE,
        integer("n_files", "Files that came in the month.", required=True),
        number("quarantined_pct", "%", "Rows that went to quarantine."),
        number("device_named_pct", "%", "Driver sessions that name their device."),
        number("ball_speed_pct", "%", "Drives with a ball speed."),
        number("side_pct", "%", "Drives of which it is known how far they ended to a side."),
    ),
)

NORMS_PATH = "norms/norms.parquet"
"""Where academies find what is usual, below the shared folder; the same as CSV beside it."""

_PERCENTILES = (10, 25, 50, 75, 90)

FEDERATION_NORM = Table(
    "federation_norm",
    "Driver speed that is usual in the federation, by sex, age and standard; null: all.",
    ("month_on", "sex", "age_band", "standard"),
    (
        day("month_on", "Newest month behind it.", required=True),
        *_of_whom("Persons behind it."),
        integer("n_academies", "Academies behind it.", required=True),
        number("speed_centre_mps", "m/s", "Geometric mean.", required=True),
        number("speed_spread_pct", "%", "Standard deviation between persons.", required=True),
        *(
            number(
                f"speed_p{share}_mps",
                "m/s",
                f"Of {share} in 100 persons the speed lies below, were it spread log-normally.",
                True,
            )
            for share in _PERCENTILES
        ),
    ),
)

SHARED: MappingProxyType[str, Table] = MappingProxyType(
    {"level": SHARED_LEVEL, "speed_block": SHARED_BLOCK, "quality": SHARED_QUALITY}
)
"""Kind, as the file is called, to contract."""


def _within(name: str, low: float, high: float, source: str) -> RowRule:
    return RowRule(
        f"{name}_out_of_range", (name,), pl.col(name).is_between(low, high), f"{low:g} to {high:g}",
        "Update speedworth there; a number of this size comes from no driver.", source,
    )  # fmt: skip


def _one_of(name: str, words: tuple[str, ...]) -> RowRule:
    return RowRule(
        f"{name}_unknown", (name,), pl.col(name).is_in(list(words)), " / ".join(words),
        "Update speedworth here or there: the two do not know the same words.", "own choice",
    )  # fmt: skip


_ENOUGH = RowRule(
    "too_few_persons",
    ("n_persons",),
    pl.col("n_persons") >= FEWEST_SHARED,
    f"at least {FEWEST_SHARED} persons",
    "Take the file out of the shared folder and ask who wrote it: speedworth writes no such row.",
    "small cells",
)
_PLACE = (
    RowRule(
        "academy_unsafe", ("academy",), pl.col("academy").str.contains(ID_PATTERN), "letters, digits, _ . -",
        "Give the academy another name in its [share].", "it names a folder",
    ),
    RowRule(
        "month_not_first", ("month_on",), pl.col("month_on").dt.day() == 1, "first day of a month",
        "Take the file out of the shared folder and ask who wrote it.", "one file a month",
    ),
)  # fmt: skip
_WHOM = (
    _ENOUGH,
    _one_of("sex", FIELDS["sex"].allowed),
    _one_of("age_band", tuple(AGE_BANDS)),
    _one_of("standard", FIELDS["standard"].allowed),
)
_SPEEDS = (
    _within("speed_centre_mps", 10, 75, "limits of club speed"),
    _within("speed_spread_pct", 0, 60, "own choice"),
)

RULES: MappingProxyType[str, tuple[RowRule, ...]] = MappingProxyType(
    {
        SHARED_LEVEL.name: (
            *_PLACE,
            *_WHOM,
            *_SPEEDS,
            _within("growth_pct", -60, 60, "own choice"),
            _within("growth_spread_pct", 0, 60, "own choice"),
            _within("scatter_centre_m", 0.5, 120, "own choice"),
            _within("scatter_spread_pct", 0, 200, "own choice"),
            RowRule(
                "growth_without_month", ("growth_pct", "since_on"),
                pl.col("growth_pct").is_null() | pl.col("since_on").is_not_null(),
                "growth with the month that it counts from", "Update speedworth there.", "a change has a beginning",
            ),
        ),
        SHARED_BLOCK.name: (
            *_PLACE,
            _ENOUGH,
            RowRule(
                "fewer_blocks_than_persons", ("n_blocks", "n_persons"), pl.col("n_blocks") >= pl.col("n_persons"),
                "a block or more of each person", "Update speedworth there.", "each of them ended one",
            ),
            _within("effect_pct", -30, 30, "own choice"),
            _within("error_pct", 0.01, 30, "own choice"),
        ),
        SHARED_QUALITY.name: (
            *_PLACE,
            _within("n_files", 0, 1e6, "own choice"),
            *(
                _within(name, 0, 100, "per cent")
                for name in ("quarantined_pct", "device_named_pct", "ball_speed_pct", "side_pct")
            ),
        ),
        FEDERATION_NORM.name: (
            *_WHOM,
            *_SPEEDS,
            RowRule(
                "percentiles_out_of_order", ("speed_p10_mps", "speed_p90_mps"),
                pl.col("speed_p10_mps") <= pl.col("speed_p90_mps"),
                "percentiles that rise", "Let the federation write its norms anew.", "order of percentiles",
            ),
        ),
    }
)  # fmt: skip
"""Rules across the columns of each contract, beside type and what may be null."""
