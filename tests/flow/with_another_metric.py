"""Follows a quantity that is added at run time, as DEVELOPERS.md says; run by a test. Prints what was found, as JSON."""

from __future__ import annotations

import json
from types import MappingProxyType

import numpy as np
import polars as pl

from schemas import trend_metrics
from schemas.trend_metrics import TrendMetric

PATH = TrendMetric("path_deg", "deg", "deg", "path")
trend_metrics.TREND_METRICS = MappingProxyType({**trend_metrics.TREND_METRICS, PATH.name: PATH})

from pipelines.measures.trend import priors  # noqa: E402 - only now do trends know of the quantity

priors.PRIORS = MappingProxyType({**priors.PRIORS, PATH.name: priors.Prior(0.5, 1.2, 0.6)})

from pipelines.measures.trend import observations  # noqa: E402
from pipelines.measures.trend.assembly import in_natural_units, trends  # noqa: E402
from reports.findings.trend import trend_sentence  # noqa: E402
from reports.numbers import Numbers  # noqa: E402
from reports.words import words  # noqa: E402
from schemas.academy import Units  # noqa: E402
from tests.unit.trend_world import summaries  # noqa: E402

observations._CENTRES[PATH.name] = "path_deg"


def main() -> dict[str, object]:
    rows = summaries(4, 6, 40)
    path = -2.0 + 0.4 * np.random.default_rng(2).standard_normal(rows.height) + 0.1 * (np.arange(rows.height) % 40)
    rows = rows.with_columns(
        path_deg_n=pl.lit(20, dtype=pl.Int64), path_deg_centre=pl.Series(path), path_deg_spread=pl.lit(1.1, dtype=pl.Float64)
    )
    points = in_natural_units(trends(rows).points).filter(pl.col("metric") == PATH.name, pl.col("player_id") == "p00")
    last = points.sort("on_date").row(-1, named=True)
    numbers = Numbers(words("en"), Units("m/s", "m"))
    return {"n_points": points.height, "level": last["level"], "said": trend_sentence(last, numbers)}


if __name__ == "__main__":
    print(json.dumps(main()))  # noqa: T201 - the test reads it
