"""Where a change that was tried would put a player on the trade-off map."""

from __future__ import annotations

import polars as pl


def proposals(arms: pl.DataFrame) -> pl.DataFrame:
    """Club speed and scatter as they would be with each arm, from where the player is now.

    Parameters
    ----------
    arms : polars.DataFrame
        player_id, trial_id, arm, question, n_shots; of the arm and of normal in the same trial ``*_speed_mps`` [m/s],
        ``*_offline_sd_m`` and ``*_carry_m`` [m]; of the newest month month_speed_mps [m/s] and month_direction_sd_deg [deg].

    Returns
    -------
    polars.DataFrame
        player_id, trial_id, arm, question, n_shots, club_speed_mps [m/s], direction_sd_deg [deg], change_speed_mps [m/s],
        scatter_ratio; null where a part is not known.

    Notes
    -----
    Speed is carried over as a difference, scatter as a ratio. Scatter is an angle, ``sigma = SD(offline) / carry`` where angles
    are small: the ratio is ``(s_arm / c_arm) / (s_normal / c_normal)``, and the days of the trial, which both arms share, fall
    out of it.

    Source: [BroadieKo2009]
    Checked: tests/unit/test_proposals.py
    """

    def angle(arm: str) -> pl.Expr:
        return pl.col(f"{arm}_offline_sd_m") / pl.col(f"{arm}_carry_m")

    change = pl.col("arm_speed_mps") - pl.col("normal_speed_mps")
    ratio = angle("arm") / angle("normal")
    ratio = pl.when(ratio.is_finite()).then(ratio)
    return arms.select(
        "player_id",
        "trial_id",
        "arm",
        "question",
        "n_shots",
        club_speed_mps=pl.col("month_speed_mps") + change,
        direction_sd_deg=pl.col("month_direction_sd_deg") * ratio,
        change_speed_mps=change,
        scatter_ratio=ratio,
    )
