"""What devices read too much, taken off what is told by month, as the trends take it off their sessions."""

from __future__ import annotations

import polars as pl

from pipelines.measures.grouping import by_group, divided
from schemas.trend_metrics import RELATIVE

METRICS: tuple[str, ...] = ("club_speed_mps", "speed_ratio", "comparable_carry_m", "launch_deg", "spin_rpm")
"""Quantities of the trends whose offsets are taken off."""
TAKEN_OFF: dict[str, str] = {
    **{metric: metric for metric in METRICS if metric != "comparable_carry_m"},
    **dict.fromkeys(("carry_m", "total_m", "carry_pooled_m", "carry_bearman_harvey_m"), "comparable_carry_m"),
}
"""Columns of what is told by month, and the quantity by whose offset each is corrected."""
DEVICE_ERROR_M, _SPEED_ERROR, _CARRY = "device_error_m", "club_speed_error_mps", "comparable_carry_m"
_MONTH = ("player_id", "club", "month_on")


def device_months(sessions: pl.DataFrame, offsets: pl.DataFrame) -> pl.DataFrame:
    """Offsets of the devices on which a player struck a club in a month.

    Parameters
    ----------
    sessions : polars.DataFrame
        player_id, club, metric, on_date, device_id, offset [change unit], n (shots): sessions of the trends.
    offsets : polars.DataFrame
        device_id, metric, from_on, error [change unit]: rows of ``device_offset``.

    Returns
    -------
    polars.DataFrame
        player_id, club, month_on, and for each of :data:`METRICS` ``offset_METRIC`` and ``error_METRIC``: means weighted by
        shots; null where the trends say nothing of it. Months in which nothing is taken off are left out.

    Notes
    -----
    The offset of a session is that which was in force on its day, so that a month never changes with later sessions. An offset
    that a person decided has no error of its own. Source: own rule. Checked: tests/unit/test_device_months.py.
    """
    known = offsets.select("device_id", "metric", pl.col("from_on").alias("on_date"), "error").sort("on_date")
    dated = sessions.sort("on_date", maintain_order=True).join_asof(
        known, on="on_date", by=["device_id", "metric"], strategy="backward", check_sortedness=False
    )
    shots = pl.col("n").cast(pl.Float64)
    rows = dated.with_columns(month_on=pl.col("on_date").dt.month_start(), error=pl.col("error").fill_null(0.0))
    means = by_group(rows, [*_MONTH, "metric"]).agg(
        ((pl.col(name) * shots).sum() / shots.sum()).alias(name) for name in ("offset", "error")
    )
    found = means.filter(pl.col("offset") != 0.0).select(_MONTH).unique(maintain_order=True)
    for metric in METRICS:
        own = means.filter(pl.col("metric") == metric).select(
            *_MONTH, *(pl.col(name).alias(f"{name}_{metric}") for name in ("offset", "error"))
        )
        found = found.join(own, on=list(_MONTH), how="left", maintain_order="left")
    return found


def without_devices(months: pl.DataFrame, devices: pl.DataFrame) -> pl.DataFrame:
    """Rows by month as the device that was used first would have read them.

    Parameters
    ----------
    months : polars.DataFrame
        player_id, club, month_on, carry_m, club_speed_mps with its error, and any of the columns of :data:`TAKEN_OFF`.
    devices : polars.DataFrame
        From :func:`device_months`.

    Returns
    -------
    polars.DataFrame
        The rows in their order, those columns without the offset, the error of club speed holding that of its offset;
        ``device_error_m`` [m] is what the error of the offset does to carry, 0 where nothing is taken off. Scatter is left as it
        was read: by how much two devices differ in it is hardly ever known.

    Notes
    -----
    A session of which the trends say nothing takes the mean of the month's others. Source: own rule.
    Checked: tests/unit/test_device_months.py.
    """
    found = months.join(devices, on=list(_MONTH), how="left", maintain_order="left")
    carry, speed = (pl.col(f"error_{metric}").fill_null(0.0) for metric in (_CARRY, "club_speed_mps"))
    corrected = found.with_columns(_without(name, metric) for name, metric in TAKEN_OFF.items() if name in months.columns)
    of_speed = pl.col("club_speed_mps") * divided(speed, 100.0)
    errors = {
        DEVICE_ERROR_M: pl.col("carry_m") * divided(carry, 100.0),
        _SPEED_ERROR: pl.when(speed > 0.0).then((pl.col(_SPEED_ERROR) ** 2 + of_speed**2).sqrt()).otherwise(_SPEED_ERROR),
    }
    return corrected.with_columns(**errors).select(*months.columns, DEVICE_ERROR_M)


def _without(name: str, metric: str) -> pl.Expr:
    offset = pl.col(f"offset_{metric}").fill_null(0.0)
    told = pl.col(name) * divided(-offset, 100.0).exp() if metric in RELATIVE else pl.col(name) - offset
    return told.alias(name)
