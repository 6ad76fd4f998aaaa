"""Everything that the invented squad leaves behind, as frames: the whole academy before it becomes files."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from pipelines.demo.ball import printed
from pipelines.demo.body import absences, checkins_of, mobility_of, problem_forms
from pipelines.demo.cast import Player
from pipelines.demo.devices import DEVICES
from pipelines.demo.effects import EMPTY, N_DAYS
from pipelines.demo.files import TIME_ZONE, dated
from pipelines.demo.play import changes, plans_of, rounds_of
from pipelines.demo.schedule import days_of, sessions_of
from pipelines.demo.stories import EFFECTS
from pipelines.demo.swings import swings_of, trial_of
from pipelines.demo.weather import ALTITUDE_M, Weather, weather

_WEATHER, _DAYS, _SESSIONS, _SWINGS, _PRINT, _CHECKINS, _FORMS, _SCREENS, _ROUNDS = range(9)
"""Topics: each has its own random numbers for each player, so that one does not move the other."""


@dataclass(frozen=True)
class Squad:
    """Frames of the whole academy, each with the day of its rows in ``on`` and otherwise the columns of its kind of file."""

    sessions: pl.DataFrame
    shots: pl.DataFrame
    checkins: pl.DataFrame
    problems: pl.DataFrame
    absences: pl.DataFrame
    plans: pl.DataFrame
    mobility: pl.DataFrame
    rounds: pl.DataFrame
    changes: pl.DataFrame


def squad(players: tuple[Player, ...], seed: int) -> Squad:
    """Everything that these players leave behind from the first to the last day."""
    air = weather(np.random.default_rng([seed, 0, _WEATHER]))
    leavings = [_leavings(player, air, seed) for player in players]
    together = {name: pl.concat([left[name] for left in leavings]) for name in leavings[0]}
    swings = together.pop("swings")
    measured = printed(swings, air, np.random.default_rng([seed, 0, _PRINT]))
    shots = pl.concat([swings.drop(measured.columns, strict=False), measured], how="horizontal")
    return Squad(
        sessions=_in_order(_session_columns(together["sessions"], air)),
        shots=_shot_columns(shots),
        checkins=_in_order(dated(together["checkins"]).with_columns(date=pl.col("on"))),
        problems=_in_order(together["problems"].with_columns(on=pl.col("week_ending"))),
        absences=absences(frozenset(player.player_id for player in players)).with_columns(on=pl.col("began_on")),
        plans=_in_order(together["plans"].with_columns(on=pl.col("week_starting"))),
        mobility=_in_order(dated(together["mobility"]).with_columns(date=pl.col("on"))),
        rounds=_in_order(dated(together["rounds"]).with_columns(played_on=pl.col("on"))),
        changes=changes(frozenset(player.player_id for player in players)).with_columns(on=pl.col("changed_on")),
    )


def _in_order(frame: pl.DataFrame) -> pl.DataFrame:
    return frame.sort("on", "player_id", maintain_order=True)


def _leavings(player: Player, air: Weather, seed: int) -> dict[str, pl.DataFrame]:
    def rng(topic: int) -> np.random.Generator:
        return np.random.default_rng([seed, player.number, topic])

    days = days_of(player, EFFECTS, rng(_DAYS))
    sessions = sessions_of(player, days, EFFECTS, air, rng(_SESSIONS))
    swings = swings_of(player, sessions, EFFECTS, air, rng(_SWINGS))
    by_day = np.zeros(N_DAYS)
    by_day[sessions["day"].to_numpy()] = sessions["swings_full"].to_numpy()
    own = sessions.select("player_id", "device_id", "start_min")
    return {
        "sessions": _session_ids(sessions, player).with_columns(course=pl.lit(player.home_course)),
        "swings": pl.concat([_session_ids(swings, player), own[swings["session"]]], how="horizontal").with_columns(
            handed=pl.lit(player.handed)
        ),
        "checkins": checkins_of(player, days, by_day, EFFECTS, rng(_CHECKINS)),
        "problems": problem_forms(player, EFFECTS, rng(_FORMS)),
        "plans": plans_of(player, days),
        "mobility": mobility_of(player, EFFECTS, rng(_SCREENS)),
        "rounds": rounds_of(player, sessions, EFFECTS, rng(_ROUNDS)),
    }


def _session_ids(frame: pl.DataFrame, player: Player) -> pl.DataFrame:
    trial = trial_of(player.player_id)
    return dated(frame).with_columns(
        session_id=pl.lit(f"{player.player_id}-") + pl.col("on").dt.strftime("%Y%m%d"),
        own_trial=pl.lit(trial.truth.trial_id if trial else None, dtype=pl.String),
    )


def _clock(minutes: pl.Expr, seconds: pl.Expr) -> pl.Expr:
    return pl.col("on").cast(pl.Datetime("us")) + pl.duration(minutes=minutes, seconds=seconds)


def _session_columns(sessions: pl.DataFrame, air: Weather) -> pl.DataFrame:
    day = sessions["day"].to_numpy()
    device = pl.col("device_id")
    indoors = device.is_in([name for name, one in DEVICES.items() if one.place == "indoors"])
    has_device, outdoors = device != EMPTY, (device != EMPTY) & ~indoors | (pl.col("kind") == "course")
    bays = pl.DataFrame(
        [(one.device_id, number, bay) for one in DEVICES.values() for number, bay in enumerate(one.bays)],
        schema=["device_id", "bay_number", "bay_id"],
        orient="row",
    ).with_columns(pl.col("bay_number").cast(pl.Int64))
    n_bays = pl.lit({name: len(one.bays) for name, one in DEVICES.items()}.get("unit-2", 1))
    weathered = sessions.with_columns(
        pl.Series("air_temp_c", air.temp_c[day].round(1)),
        pl.Series("air_pressure_hpa", air.pressure_hpa[day].round(1)),
        pl.Series("humidity_pct", air.humidity_pct[day].round(0)),
        pl.Series("wind_mps", air.wind_mps[day].round(1)),
        pl.Series("wind_from_deg", air.wind_from_deg[day].round(0)),
    )
    counts = ("swings_full", "swings_part", "swings_dry", "holes")
    return (
        weathered.with_columns(
            pl.when(outdoors).then(pl.col(name)).otherwise(None).alias(name)
            for name in ("air_pressure_hpa", "humidity_pct", "wind_mps", "wind_from_deg")
        )
        .with_columns(
            air_temp_c=pl.when(outdoors).then("air_temp_c").when(indoors & has_device).then(20.0),
            altitude_m=pl.when(outdoors).then(ALTITUDE_M),
            indoors=pl.when(has_device).then(indoors),
            ball=pl.when(has_device & outdoors).then(pl.lit("range")).when(has_device).then(pl.lit("premium")),
            bay_number=(pl.col("start_min") // 5) % n_bays,
            started_at=_clock(pl.col("start_min"), pl.lit(0)).dt.strftime("%Y-%m-%dT%H:%M"),
            **{name: pl.when(pl.col("kind") != "rest").then(name).cast(pl.Int64) for name in counts},
            note=_notes(),
        )
        .with_columns(pl.when(pl.col("kind") == "course").then(name).alias(name) for name in ("course", "holes"))
        .join(bays, on=["device_id", "bay_number"], how="left", maintain_order="left")
        .with_columns(
            device_id=pl.when(has_device).then(device),
            bay_id=pl.when(has_device).then(pl.col("bay_id").fill_null(pl.lit("bay-1"))),
        )
    )


def _notes() -> pl.Expr:
    """A few words, as people leave them; one holds a comma and quotes, one a letter outside ASCII."""
    number = pl.col("day").cast(pl.Int64)
    return (
        pl.when(pl.col("kind") == "trial")
        .then(pl.lit("shot sheet, blocks as printed"))
        .when((pl.col("kind") == "range") & (number % 97 == 0))
        .then(pl.lit('windy, felt "late" on the long ones'))
        .when((pl.col("kind") == "range") & (number % 89 == 0))
        .then(pl.lit("Fühlte sich gut an"))
    )


def _shot_columns(shots: pl.DataFrame) -> pl.DataFrame:
    """Shots with numbers and times; swings with a device that saw nothing are no shots."""
    seen = shots.filter(pl.any_horizontal(pl.col("club_speed_mps", "ball_speed_mps", "carry_m").is_not_null()))
    numbered = seen.with_columns(shot_no=pl.int_range(1, pl.len() + 1).over("session_id"))
    instant = _clock(pl.col("start_min") + 5, 38 * pl.col("shot_no")).dt.replace_time_zone(TIME_ZONE)
    in_trial = pl.col("arm") != EMPTY
    return numbered.with_columns(
        struck_at=instant.dt.strftime("%Y-%m-%dT%H:%M:%S%:z"),
        trial_id=pl.when(in_trial).then("own_trial"),
        arm=pl.when(in_trial).then("arm"),
        block_no=pl.when(in_trial).then("block_no"),
        **{name: pl.col(name).cast(pl.Int64) for name in ("spin_rpm", "strike_side_mm", "strike_height_mm")},
    ).sort("on", "player_id", "shot_no")
