"""Which months a month is compared with."""

from __future__ import annotations

from datetime import date

import polars as pl
import pytest

from pipelines.measures.reference_months import with_recent, with_reference


def months(*rows: tuple[str, date, float | None, int]) -> pl.DataFrame:
    schema = {"player_id": pl.String, "month_on": pl.Date, "speed": pl.Float64, "n": pl.Int64}
    return pl.DataFrame(rows, schema=schema, orient="row")


TABLE = months(
    ("a", date(2025, 1, 1), 40.0, 10),
    ("a", date(2025, 3, 1), 41.0, 30),
    ("a", date(2025, 9, 1), 45.0, 20),
    ("a", date(2026, 2, 1), 46.0, 20),
    ("b", date(2025, 9, 1), 30.0, 20),
    ("b", date(2025, 12, 1), None, 20),
    ("b", date(2026, 1, 1), 32.0, 20),
)


def level(frame: pl.DataFrame, column: str) -> dict[tuple[str, date], float | None]:
    return {(player, month): value for player, month, value in frame.select("player_id", "month_on", column).iter_rows()}


def test_six_to_twelve_months_back_weighted_by_shots() -> None:
    found = level(with_reference(TABLE, ["player_id"], ["speed"], "n"), "reference_speed")
    assert found["a", date(2025, 9, 1)] == pytest.approx((40.0 * 10 + 41.0 * 30) / 40)
    assert found["a", date(2026, 2, 1)] == pytest.approx(41.0)  # 2025-03 is 11 back; 2025-09 is 5 back and not used then


def test_three_to_five_months_where_there_is_nothing_older() -> None:
    referred = with_reference(TABLE, ["player_id"], ["speed"], "n")
    found = level(referred, "reference_speed")
    assert found["b", date(2026, 1, 1)] == pytest.approx(30.0)
    assert found["b", date(2025, 12, 1)] == pytest.approx(30.0)
    assert found["b", date(2025, 9, 1)] is None
    assert found["a", date(2025, 3, 1)] is None


def test_after_a_break_of_a_year_the_last_months_before_it_are_then() -> None:
    first = [("c", date(2024, month, 1), 40.0 + month, 10) for month in range(1, 11)]
    back = [("c", date(2026, month, 1), 60.0 + month, 10) for month in range(1, 9)]
    referred = with_reference(months(*first, *back), ["player_id"], ["speed"], "n")
    found, since, until = (level(referred, f"reference_{name}") for name in ("speed", "from_on", "to_on"))
    for month in (1, 4, 6):
        day = ("c", date(2026, month, 1))
        assert (since[day], until[day]) == (date(2024, 4, 1), date(2024, 10, 1)), (
            "not the first months, nor those since the break"
        )
        assert found[day] == pytest.approx(47.0)
    assert until["c", date(2026, 7, 1)] == date(2026, 1, 1), "half a year after the break it is as for everybody"


def test_a_null_level_has_no_weight() -> None:
    found = level(with_recent(TABLE, ["player_id"], ["speed"], "n"), "recent_speed")
    assert found["b", date(2026, 1, 1)] == pytest.approx(32.0)
    assert found["b", date(2025, 12, 1)] is None


def test_later_months_change_nothing() -> None:
    early = TABLE.filter(pl.col("month_on") <= date(2025, 9, 1))
    whole = with_reference(TABLE, ["player_id"], ["speed"], "n").filter(pl.col("month_on") <= date(2025, 9, 1))
    assert with_reference(early, ["player_id"], ["speed"], "n").equals(whole)


def test_rows_keep_their_order() -> None:
    shuffled = TABLE.sample(fraction=1.0, shuffle=True, seed=3)
    assert with_reference(shuffled, ["player_id"], ["speed"], "n").select(TABLE.columns).equals(shuffled)


def test_the_error_of_a_mean_over_months_is_that_of_its_weights_and_a_month_that_has_just_begun_adds_little() -> None:
    rows = [("a", date(2025, month, 1), error, n) for month, error, n in ((1, 0.3, 300), (2, 0.3, 300), (3, 1.5, 12))]
    found = level(with_recent(months(*rows), ["player_id"], [], "n", ["speed"]), "recent_speed")
    assert found["a", date(2025, 2, 1)] == pytest.approx(0.3 / 2**0.5)  # as often said: by the root of the months
    assert found["a", date(2025, 3, 1)] == pytest.approx(((300 * 0.3) ** 2 * 2 + (12 * 1.5) ** 2) ** 0.5 / 612)
    gap = level(
        with_recent(months(*rows[:2], ("a", date(2025, 3, 1), None, 12)), ["player_id"], [], "n", ["speed"]), "recent_speed"
    )
    assert gap["a", date(2025, 3, 1)] == found["a", date(2025, 2, 1)]
