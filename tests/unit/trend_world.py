"""Session summaries of an invented squad, for tests of trends."""

from __future__ import annotations

import datetime as dt

import numpy as np
import polars as pl

from pipelines.measures.trend.observations import observations_of, usual_swings
from schemas.core.summaries import SESSION_CLUB
from schemas.trend_metrics import TREND_METRICS

START = dt.date(2026, 1, 5)


def summaries(seed: int, n_players: int, n_sessions: int, **more: object) -> pl.DataFrame:
    """A driver session every other day; ``speed_share``: (player, session) shares by which club speed is higher."""
    rng = np.random.default_rng(seed)
    player, session = np.repeat(np.arange(n_players), n_sessions), np.tile(np.arange(n_sessions), n_players)
    n = player.size
    shift = np.asarray(more.pop("speed_share", np.zeros((n_players, n_sessions))))
    level = (44.0 + 3.0 * rng.standard_normal(n_players))[player]
    speed = level * (1.0 + 0.007 * rng.standard_normal(n) + shift[player, session])
    offline, carry = 3.0 * rng.standard_normal(n), 5.0 * speed
    device = np.asarray(more.pop("device", np.full((n_players, n_sessions), "bay-1")))[player, session]
    values = {"club_speed_mps": (speed, 0.65), "carry_m": (carry, 9.0), "offline_m": (offline, 14.0)}
    columns: dict[str, object] = {
        "session_id": [f"s{p:02d}-{s:03d}" for p, s in zip(player, session, strict=True)],
        "player_id": [f"p{p:02d}" for p in player],
        "club_group": "driver",
        "on_date": [START + dt.timedelta(days=2 * int(s)) for s in session],
        "session_kind": "range",
        "device_id": device,
        "club": "driver",
        "is_usual_club": True,
        "n_group_shots": 20,
        "n_shots": 20,
        **more,
    }
    for name, (centre, spread) in values.items():
        columns |= {f"{name}_n": 20, f"{name}_centre": centre, f"{name}_spread": spread}
    for name in ("offline_m", "carry_m"):
        log_mad = np.log(11.0 if name == "offline_m" else 7.0) + 0.2 * rng.standard_normal(n)
        columns |= {f"{name}_scatter_n": 20, f"{name}_log_mad": log_mad}
    frame = pl.DataFrame(columns)
    missing = [name for name in SESSION_CLUB.names if name not in frame.columns]
    schema = SESSION_CLUB.polars_schema()
    fill = [pl.lit(0 if name.endswith("_n") else None, dtype=schema[name]).alias(name) for name in missing]
    return frame.with_columns(fill).select(pl.col(name).cast(schema[name]) for name in SESSION_CLUB.names)


def observations(rows: pl.DataFrame) -> pl.DataFrame:
    """Observations of all quantities in session summaries."""
    swings = usual_swings(rows)
    return pl.concat([observations_of(swings, metric) for metric in sorted(TREND_METRICS)], how="diagonal")
