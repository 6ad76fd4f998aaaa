"""Candidates of ``answers_fewer``: answers have become rare while practice goes on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from pipelines.measures.body.fewer import fewer_answers
from pipelines.measures.flags.body_rules import ended
from pipelines.measures.flags.candidates import candidates
from pipelines.measures.load.grid import readings

if TYPE_CHECKING:
    from pipelines.measures.load.grid import DayGrid, Truths

OPENS_P, HOLDS_P = 0.0005, 0.05
"""Own choices, set on simulated squads whose seeds are not those reported (tests/benchmarks)."""


def answer_candidates(answered: Truths, practised: Truths, grid: DayGrid) -> pl.DataFrame:
    """Candidates of ``answers_fewer``, night by night.

    Parameters
    ----------
    answered, practised : Truths, shape (players, days)
    grid : DayGrid

    Returns
    -------
    polars.DataFrame
        value: days with an answer in the last 14; baseline: how many are usual; n: days behind that.
    """
    found = fewer_answers(answered, practised)
    p_value = found.p_value
    opens: Truths = p_value.known & (p_value.value <= OPENS_P)
    holds: Truths = p_value.known & (p_value.value <= HOLDS_P)
    followed = np.broadcast_to(p_value.known.sum(axis=0).astype(np.float64), grid.shape)
    frame = grid.frame(
        {
            "opens": opens,
            "holds": holds,
            "p_value": p_value,
            "n_players": readings(followed, p_value.known),
            "strength": readings(-np.log10(np.clip(p_value.value, 1e-12, 1.0)), p_value.known),
            "value": found.n_answers,
            "baseline": found.usual,
            "n": readings(found.n_usual, p_value.known),
        },
        keep=opens | holds | ended(holds, p_value.known),
    )
    return candidates(
        frame.select(
            "player_id",
            "on_date",
            pl.lit("answers_fewer").alias("kind"),
            "opens",
            "holds",
            "p_value",
            pl.col("n_players").cast(pl.Int64),
            "strength",
            "value",
            "baseline",
            pl.col("n").cast(pl.Int64),
        )
    )
