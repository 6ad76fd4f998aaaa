"""Where a trial's arm would put a player on the trade-off map."""

from __future__ import annotations

import numpy as np
import polars as pl
import pytest

from pipelines.measures.tradeoff.proposals import proposals


def arm(**changed: float | None) -> pl.DataFrame:
    row: dict[str, object] = {
        "player_id": "p1",
        "trial_id": "t1",
        "arm": "wider",
        "question": "wider stance",
        "n_shots": 40,
        "arm_speed_mps": 47.0,
        "arm_offline_sd_m": 15.0,
        "arm_carry_m": 250.0,
        "normal_speed_mps": 45.0,
        "normal_offline_sd_m": 10.0,
        "normal_carry_m": 200.0,
        "month_speed_mps": 46.0,
        "month_direction_sd_deg": 4.0,
    }
    return pl.DataFrame([row | changed], schema_overrides=dict.fromkeys(changed, pl.Float64))


def test_speed_is_carried_over_as_a_difference_and_scatter_as_a_ratio() -> None:
    (row,) = proposals(arm()).to_dicts()
    assert (row["change_speed_mps"], row["club_speed_mps"]) == (2.0, 48.0)
    assert (row["scatter_ratio"], row["direction_sd_deg"]) == (pytest.approx(1.2), pytest.approx(4.8))


def test_the_ratio_is_that_of_the_angles_of_struck_shots() -> None:
    """Independent: shots with a known spread of direction, landed by trigonometry."""
    rng = np.random.default_rng(11)
    angle = np.deg2rad(rng.standard_normal(200_000))
    landed = {
        name: (np.cos(angle * sd) * total, np.sin(angle * sd) * total)
        for name, sd, total in (("arm", 3.0, 250), ("normal", 2.0, 200))
    }
    measured = {f"{name}_carry_m": float(carry.mean()) for name, (carry, _) in landed.items()}
    measured |= {f"{name}_offline_sd_m": float(offline.std()) for name, (_, offline) in landed.items()}
    assert proposals(arm(**measured))["scatter_ratio"].item() == pytest.approx(1.5, rel=0.005)


@pytest.mark.parametrize("unknown", ["arm_offline_sd_m", "arm_carry_m", "normal_offline_sd_m", "normal_carry_m"])
def test_what_is_not_known_gives_no_scatter(unknown: str) -> None:
    (row,) = proposals(arm(**{unknown: None})).to_dicts()
    assert (row["scatter_ratio"], row["direction_sd_deg"], row["club_speed_mps"]) == (None, None, 48.0)


def test_a_normal_without_any_scatter_gives_no_ratio() -> None:
    assert proposals(arm(normal_offline_sd_m=0.0))["scatter_ratio"].item() is None
