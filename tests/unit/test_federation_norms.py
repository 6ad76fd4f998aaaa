"""What is usual in a federation, from sums over groups, against the same from single persons."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl
import pytest
from scipy.stats import t

from pipelines.measures.federation.blocks import blocks_across
from pipelines.measures.federation.norms import apart, federation_norms, newest, usual, with_logs, worthwhile_priors
from pipelines.measures.federation.pooling import random_effects
from schemas.shared import FEDERATION_NORM, SHARED_BLOCK, SHARED_LEVEL
from schemas.shared_contract import broken_rule

MARCH = dt.date(2026, 3, 1)


def cohort(academy: str, number: int, x: np.ndarray, month_on: dt.date = MARCH, **more: object) -> dict[str, object]:
    """A row of shared_level of persons with these values [100 ln]."""
    return {
        "academy": academy, "month_on": month_on, "cohort": number, "sex": "male", "age_band": "18_24", "standard": "80",
        "n_persons": len(x), "speed_centre_mps": float(np.exp(x.mean() / 100)), "speed_spread_pct": float(x.std(ddof=1)),
    } | more  # fmt: skip


def rows(*given: dict[str, object]) -> pl.DataFrame:
    return pl.DataFrame(list(given), schema=SHARED_LEVEL.polars_schema(), orient="row")


def persons(seed: int, n: int) -> np.ndarray:
    return 100 * np.log(46.0) + 8.0 * np.random.default_rng(seed).standard_normal(n)


def test_groups_of_one_academy_give_what_its_persons_give() -> None:
    one, two = persons(1, 9), persons(2, 14)
    found = usual(with_logs(rows(cohort("a", 1, one), cohort("a", 2, two))), "speed_x", "speed_spread_pct")
    both = np.concatenate([one, two])
    assert found is not None
    assert (found.n_persons, found.n_academies) == (23, 1)
    assert found.mean == pytest.approx(both.mean())
    assert found.spread == pytest.approx(both.std(ddof=1))
    low, high = t.interval(0.90, 22, both.mean(), both.std(ddof=1) / np.sqrt(23))
    assert (found.low, found.high) == pytest.approx((low, high))


def test_several_academies_are_brought_together_by_random_effects() -> None:
    groups = {name: persons(seed, 12) + shift for seed, (name, shift) in enumerate((("a", 0.0), ("b", 6.0), ("c", -3.0)))}
    found = usual(with_logs(rows(*(cohort(name, 1, x) for name, x in groups.items()))), "speed_x", "speed_spread_pct")
    means = np.array([x.mean() for x in groups.values()])
    pooled = random_effects(means, np.array([x.var(ddof=1) / 12 for x in groups.values()]))
    assert found is not None
    assert (found.mean, found.low, found.high) == pytest.approx((pooled.mean, pooled.low, pooled.high))
    assert found.n_academies == 3


def test_a_quantity_that_nobody_shared_is_not_told() -> None:
    assert usual(with_logs(rows(cohort("a", 1, persons(1, 9)))), "scatter_x", "scatter_spread_pct") is None


def test_the_newest_row_of_a_cohort_counts_for_a_quarter_of_a_year() -> None:
    old, new = (cohort("a", 1, persons(seed, 9), month) for seed, month in ((1, dt.date(2026, 1, 1)), (2, MARCH)))
    gone = cohort("a", 2, persons(3, 9), dt.date(2025, 11, 1))
    later = cohort("a", 3, persons(4, 9), dt.date(2026, 4, 1))
    found = newest(rows(old, new, gone, later), MARCH)
    assert found.select("cohort", "month_on").rows() == [(1, MARCH)]


def test_groupings_leave_out_what_they_cannot_place() -> None:
    mixed = cohort("a", 2, persons(2, 9), age_band=None, standard=None)
    found = apart(rows(cohort("a", 1, persons(1, 9)), mixed))
    told = {tuple(cell.values()): int(part["n_persons"].sum()) for cell, part in found}
    assert told[None, None, None] == 18
    assert told["male", None, None] == 18
    assert told[None, "18_24", None] == 9
    assert told["male", "18_24", "80"] == 9


def test_growth_is_told_by_the_year_from_six_months_on() -> None:
    told = rows(
        cohort("a", 1, persons(1, 9), since_on=dt.date(2025, 9, 1), growth_pct=1.5, growth_spread_pct=2.0),
        cohort("a", 2, persons(1, 9), since_on=dt.date(2025, 10, 1), growth_pct=1.5, growth_spread_pct=2.0),
    )
    found = with_logs(told).select("growth_year_pct", "growth_year_spread_pct").rows()
    assert found == [(3.0, 4.0), (None, None)]


def test_percentiles_are_those_of_the_persons_they_rest_on() -> None:
    many = persons(5, 4000)
    made = federation_norms(rows(*(cohort("abcd"[at % 4], at, many[at::40]) for at in range(40))))
    assert broken_rule(FEDERATION_NORM, made) == ""
    whole = made.filter(pl.col("sex").is_null(), pl.col("age_band").is_null(), pl.col("standard").is_null()).row(0, named=True)
    assert (whole["n_persons"], whole["n_academies"], whole["month_on"]) == (4000, 4, MARCH)
    for share in (10, 25, 50, 75, 90):
        assert whole[f"speed_p{share}_mps"] == pytest.approx(float(np.exp(np.percentile(many, share) / 100)), rel=0.005)


def test_groupings_of_fewer_than_twenty_give_no_percentiles() -> None:
    assert federation_norms(rows(cohort("a", 1, persons(1, 10)), cohort("b", 1, persons(2, 9)))).is_empty()
    assert federation_norms(rows(cohort("a", 1, persons(1, 10)), cohort("b", 1, persons(2, 10)))).height == 7


def test_worthwhile_is_a_fifth_of_the_spread_between_persons_who_are_alike() -> None:
    fast, slow = persons(6, 30), persons(7, 30) - 30.0
    made = federation_norms(rows(cohort("a", 1, fast), cohort("a", 2, slow, standard="100")))
    (prior,) = worthwhile_priors(made)
    alike = np.sqrt((fast.var(ddof=1) + slow.var(ddof=1)) / 2)
    assert prior.worthwhile == pytest.approx(0.2 * alike, abs=0.02)  # the norms hold one decimal
    assert prior.month_on == MARCH


def test_worthwhile_rests_on_those_who_are_most_alike_and_never_on_everybody_at_once() -> None:
    mixed = {"age_band": None, "standard": None}
    men, women = persons(6, 30), persons(7, 30) - 15.0
    made = federation_norms(rows(cohort("a", 1, men, **mixed), cohort("a", 2, women, sex="female", **mixed)))
    (prior,) = worthwhile_priors(made)
    assert prior.worthwhile == pytest.approx(0.2 * np.sqrt((men.var(ddof=1) + women.var(ddof=1)) / 2), abs=0.02)
    unknown = federation_norms(rows(cohort("a", 1, men, sex=None, **mixed)))
    assert unknown.height == 1
    assert worthwhile_priors(unknown) == []


def test_speed_blocks_are_averaged_within_an_academy_and_pooled_across() -> None:
    batches = pl.DataFrame(
        [("a", MARCH, 1, 6, 6, 2.0, 0.5), ("a", MARCH, 2, 5, 7, 3.0, 1.0), ("b", MARCH, 1, 8, 8, 1.0, 0.4)],
        schema=SHARED_BLOCK.polars_schema(), orient="row",
    )  # fmt: skip
    found = blocks_across(batches)
    first = found.academies.row(0, named=True)
    assert (first["n_persons"], first["n_blocks"]) == (11, 13)
    assert first["effect_pct"] == pytest.approx((2.0 * 4 + 3.0 * 1) / 5)
    assert first["error_pct"] == pytest.approx(np.sqrt(1 / 5))
    assert found.pooled is not None
    assert found.pooled.mean == pytest.approx(random_effects(np.array([2.2, 1.0]), np.array([0.2, 0.16])).mean)
    assert blocks_across(batches[:2]).pooled is None
