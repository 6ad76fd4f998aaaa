from __future__ import annotations

import numpy as np
import polars as pl

from pipelines.measures.grouping import by_group, divided

VALUE = pl.col("value")


def test_sums_of_a_group_are_the_same_to_the_last_digit_whatever_stands_beside_it() -> None:
    rng = np.random.default_rng(2)
    n = 40_000
    number = rng.integers(0, 1000, n)
    rows = pl.DataFrame({"player": [f"p{k % 50:02d}" for k in number], "session": [f"s{k:04d}" for k in number]}).with_columns(
        value=pl.Series(rng.normal(60.0, 8.0, n))
    )
    told = (VALUE.mean().alias("mean"), VALUE.sum().alias("sum"), VALUE.filter(VALUE > 50).mean().alias("kept"))
    whole = by_group(rows, ["player", "session"]).agg(*told)
    for player in ("p00", "p07", "p49"):
        alone = by_group(rows.filter(pl.col("player") == player), ["player", "session"]).agg(*told)
        assert alone.equals(whole.filter(pl.col("player") == player))
    assert whole.equals(whole.sort("player", "session"))


def test_a_row_alone_is_divided_as_it_is_among_others() -> None:
    rows = pl.DataFrame({"value": np.random.default_rng(4).normal(20.0, 3.0, 400)})
    half = divided(VALUE.max() - 1.0, 1.349).alias("half")
    together = rows.with_row_index("row").group_by("row", maintain_order=True).agg(half)
    alone = [rows.slice(row, 1).with_row_index("row", row).group_by("row").agg(half) for row in range(rows.height)]
    assert pl.concat(alone).equals(together)
