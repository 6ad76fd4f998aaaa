"""How complete the data of one month are, told in whole per cents."""

from __future__ import annotations

import datetime as dt
from typing import Any

import polars as pl

from pipelines.measures.federation.cohorts import FEWEST
from pipelines.measures.federation.month import month_end
from schemas.shared import SHARED_QUALITY


def month_of_quality(sessions: pl.DataFrame, files: pl.DataFrame, month_on: dt.date) -> pl.DataFrame:
    """The row of ``shared_quality`` of one month, without the academy's name; no row when fewer than five persons swung.

    Parameters
    ----------
    sessions : polars.DataFrame
        player_id, on_date, device_id, n_shots, ball_speed_mps_n, offline_m_n of driver sessions.
    files : polars.DataFrame
        received_at, n_rows, n_quarantined.
    month_on : datetime.date

    Returns
    -------
    polars.DataFrame
        Shares are null where there is nothing to take them of. They are whole per cents without what they are shares of, so that
        nobody can form sums of them, and take a person out of one.

    Notes
    -----
    Source: own rule. Checked: tests/unit/test_shared_month.py
    """
    schema = SHARED_QUALITY.polars_schema()
    within = sessions.filter(pl.col("on_date").is_between(month_on, month_end(month_on)))
    if within["player_id"].n_unique() < FEWEST:
        return pl.DataFrame(schema=schema)
    came = files.filter(pl.col("received_at").dt.date().is_between(month_on, month_end(month_on)))
    n_shots = within["n_shots"].sum()
    row = {
        "month_on": month_on,
        "n_files": came.height,
        "quarantined_pct": _share(came["n_quarantined"].sum(), came["n_rows"].sum()),
        "device_named_pct": _share(within["device_id"].is_not_null().sum(), within.height),
        "ball_speed_pct": _share(within["ball_speed_mps_n"].sum(), n_shots),
        "side_pct": _share(within["offline_m_n"].sum(), n_shots),
    }
    return pl.DataFrame([row], schema=schema, orient="row")


def _share(part: Any, whole: Any) -> float | None:
    return float(round(100 * part / whole)) if whole else None
