"""The rows of one trial, as its page and the parts of that page read them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import polars as pl

from reports.findings.trials import SPEED


@dataclass(frozen=True)
class TrialRows:
    """The rows of one trial.

    Attributes
    ----------
    result : dict
        Row of ``mart_trial_result``, with ``body_side`` of ``mart_trial_question``; empty for the coach.
    arm, effect, dose, strokes, shot, felt, since, alternative, body : polars.DataFrame
        Rows of the marts of that name; ``body`` is empty for the coach.
    """

    result: dict[str, Any]
    arm: pl.DataFrame
    effect: pl.DataFrame
    dose: pl.DataFrame
    strokes: pl.DataFrame
    shot: pl.DataFrame
    felt: pl.DataFrame
    since: pl.DataFrame
    alternative: pl.DataFrame
    body: pl.DataFrame

    def best(self, frame: pl.DataFrame) -> dict[str, Any] | None:
        """The first row of the arm that the verdict is about."""
        rows = frame.filter(pl.col("arm") == (self.result["best_arm"] or "")).to_dicts()
        return rows[0] if rows else None

    @property
    def verdict_rows(self) -> tuple[dict[str, Any] | None, dict[str, Any] | None, dict[str, Any] | None]:
        """Arm, effect on club speed and strokes at home of the arm that the verdict is about."""
        speed = self.effect.filter(pl.col("metric") == SPEED)
        return self.best(self.arm), self.best(speed), self.best(self.strokes.filter("is_home"))
