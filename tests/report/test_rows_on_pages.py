"""How the rows behind a chart stand on a page."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import accumulate

import polars as pl

from reports.charts import columnar


def test_days_stand_as_distances_and_come_back_as_they_were() -> None:
    days = [None, date(2026, 3, 14), None, date(2026, 3, 1), date(2026, 3, 1), date(2025, 12, 31)]
    stands = columnar(pl.DataFrame({"day": days, "value": [None, 1.5, 2, 3, 4, 5]}, schema={"day": pl.Date, "value": pl.Float64}))
    assert stands["days"] == ["day"]
    assert stands["columns"]["day"] == [None, 20526, None, -13, 0, -60]
    assert stands["columns"]["value"] == [None, 1.5, 2, 3, 4, 5]
    steps = [step for step in stands["columns"]["day"] if step is not None]
    assert [date(1970, 1, 1) + timedelta(at) for at in accumulate(steps)] == [day for day in days if day]
