"""One smallest worthwhile change: fixed within a quarter, and the same for trends, flags and trials."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pipelines.measures.baseline.norms import quarter_starts
from pipelines.measures.trend.priors import PRIORS
from pipelines.measures.worthwhile import FOLLOWED_AS, RANGE, STARTING, WORTHWHILE, squad_worthwhile, worths_in_force

QUARTERS = quarter_starts(dt.date(2025, 1, 1), dt.date(2026, 12, 31))
METRICS = tuple(PRIORS)


def norms(seed: int, groups: tuple[str, ...] = ("driver", "iron")) -> pl.DataFrame:
    """Rows of ``trend_norm`` with values of their own for every quantity, group and quarter."""
    rng = np.random.default_rng(seed)
    rows = [(metric, group, start) for metric in METRICS for group in groups for start in QUARTERS]
    worth = [PRIORS[metric].worthwhile * rng.uniform(*RANGE) for metric, _, _ in rows]
    return pl.DataFrame(rows, schema=["metric", "club_group", "from_on"], orient="row").with_columns(worthwhile=pl.Series(worth))


def of_trend(rows: pl.DataFrame, metric: str, on: dt.date) -> float:
    """The value as a point of the trend has it: that of the newest quarter that has begun (see ``_judged``)."""
    day = pl.DataFrame({"metric": [metric], "club_group": ["driver"], "on_date": [on]})
    joined = day.join_asof(
        rows.sort("from_on"), left_on="on_date", right_on="from_on", by=["metric", "club_group"], check_sortedness=False
    )
    return float(joined["worthwhile"][0])


@given(st.integers(0, 10_000), st.dates(QUARTERS[0], dt.date(2026, 12, 31)), st.sampled_from(sorted(FOLLOWED_AS)))
def test_a_trial_reads_on_its_first_day_what_trends_and_flags_read_on_it(seed: int, on: dt.date, measurement: str) -> None:
    rows = norms(seed)
    found = worths_in_force(rows, "driver", on, 210.0).by_measurement[measurement]
    change = 100.0 * found.amount if found.is_share else found.amount
    assert change == pytest.approx(of_trend(rows, FOLLOWED_AS[measurement], on), rel=1e-12)


@given(st.integers(0, 10_000), st.dates(QUARTERS[0], dt.date(2026, 12, 31)))
def test_scatter_and_direction_are_those_of_the_flags_too(seed: int, on: dt.date) -> None:
    rows = norms(seed)
    found = worths_in_force(rows, "driver", on, 210.0)
    assert 100.0 * math.log(found.scatter) == pytest.approx(of_trend(rows, "scatter_side_m", on), rel=1e-12)
    degrees = math.degrees(math.atan(found.by_measurement["offline_m"].amount / 210.0))
    assert degrees == pytest.approx(of_trend(rows, "aim_deg", on), rel=1e-12)


@given(st.integers(0, 10_000), st.sampled_from(QUARTERS[:-1]), st.integers(0, 89), st.integers(0, 89))
def test_it_is_fixed_for_a_quarter(seed: int, start: dt.date, one: int, other: int) -> None:
    rows = norms(seed)
    assert worths_in_force(rows, "driver", start + dt.timedelta(one)) == worths_in_force(
        rows, "driver", start + dt.timedelta(other)
    )


def test_the_next_quarter_has_its_own_and_another_club_too() -> None:
    rows = norms(3)
    first, second = (worths_in_force(rows, "driver", day) for day in (dt.date(2025, 3, 31), dt.date(2025, 4, 1)))
    assert first.speed_pct != second.speed_pct
    assert worths_in_force(rows, "iron", dt.date(2025, 3, 31)).speed_pct != first.speed_pct


def test_without_a_norm_the_starting_values_hold() -> None:
    assert worths_in_force(norms(1), "putter", dt.date(2026, 1, 1), 210.0) == STARTING
    assert worths_in_force(norms(1), "driver", dt.date(2024, 12, 31)) == STARTING
    assert {name: 100.0 * WORTHWHILE[name].amount for name in ("club_speed_mps", "carry_m")} == pytest.approx(
        {"club_speed_mps": 1.0, "carry_m": 1.5}
    )


@given(st.lists(st.floats(-50, 50), min_size=5, max_size=30), st.floats(0.5, 20.0))
def test_a_squads_own_value_stays_within_its_range_and_does_not_depend_on_where_the_squad_lies(
    levels: list[float], starting: float
) -> None:
    found = squad_worthwhile(np.array(levels), starting)
    assert RANGE[0] * starting <= found <= RANGE[1] * starting
    assert squad_worthwhile(np.array(levels) + 7.0, starting) == pytest.approx(found)


def test_players_who_are_alike_do_not_make_less_worthwhile_and_a_mixed_squad_half_as_much_again_at_most() -> None:
    """Below the starting value a trial without effect ends too often in keep or go back (see RANGE)."""
    assert squad_worthwhile(np.zeros(9), 1.0) == 1.0
    assert squad_worthwhile(np.linspace(-3.0, 3.0, 9), 1.0) == 1.0
    assert squad_worthwhile(np.linspace(-50.0, 50.0, 9), 2.0) == 3.0
