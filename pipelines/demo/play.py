"""Plans of the weeks, rounds on the course, and days that somebody named as a change."""

from __future__ import annotations

from datetime import date

import numpy as np
import polars as pl

from pipelines.demo.cast import EVENT, EVENT_COURSE, EVENT_FROM, EVENT_ROUNDS, GROUPS, START_ON, Player
from pipelines.demo.effects import EMPTY, N_DAYS, Effect, trait_line
from pipelines.demo.phases import NOT_PLANNED, phase_line
from pipelines.demo.schedule import MINUTES, Days, planned_swings

_STROKES_OVER_PAR = {"tour": 1.0, "scratch": 3.0, "80": 9.0, "90": 19.0, "100": 29.0}
_FAIRWAYS = {"tour": 0.62, "scratch": 0.57, "80": 0.51, "90": 0.45, "100": 0.38}
_PENALTIES = {"tour": 0.2, "scratch": 0.4, "80": 0.8, "90": 1.5, "100": 2.2}


CHANGES: tuple[tuple[str, date, str], ...] = (
    ("p04", date(2026, 6, 1), "technique"),
    ("p21", date(2026, 6, 15), "equipment"),
)
"""Player, day and kind of a change: a technique block that widens scatter and leaves speed as it was, and a new driver that
changes nothing."""


def changes(player_ids: frozenset[str]) -> pl.DataFrame:
    """The changes that were named of some players, in order of their days."""
    rows = [row for row in CHANGES if row[0] in player_ids]
    schema = {"player_id": pl.String(), "changed_on": pl.Date(), "kind": pl.String()}
    return pl.DataFrame(rows, schema=schema, orient="row").sort("changed_on", "player_id")


def plans_of(player: Player, days: Days) -> pl.DataFrame:
    """The player's plan, week by week from Monday: what the pattern of the week holds, in round numbers."""
    n_weeks = N_DAYS // 7
    swings = planned_swings(player, days)[: 7 * n_weeks].reshape(n_weeks, 7)
    kinds = days.planned[: 7 * n_weeks].reshape(n_weeks, 7)
    minutes = np.vectorize(lambda kind: MINUTES.get(kind, 0.0))(kinds).sum(axis=1)
    frame = pl.DataFrame(
        {
            "player_id": np.full(n_weeks, player.player_id),
            "week": np.arange(n_weeks),
            "phase": phase_line(player.player_id)[::7][:n_weeks],
            "swings_full": (10.0 * np.round(swings.sum(axis=1) / 10.0)).astype(np.int64),
            "swings_speed": pl.Series(45 * (kinds == "speed").sum(axis=1)).replace(0, None),
            "minutes": 10.0 * np.round(minutes / 10.0),
        }
    )
    here = (kinds != EMPTY).any(axis=1) & (player.player_id not in NOT_PLANNED)
    return frame.filter(pl.Series(here)).with_columns(week_starting=pl.lit(START_ON) + pl.duration(days=7 * pl.col("week")))


def rounds_of(player: Player, sessions: pl.DataFrame, effects: tuple[Effect, ...], rng: np.random.Generator) -> pl.DataFrame:
    """The player's rounds: one for most days on the course; scatter costs fairways, penalties and strokes."""
    course = sessions.filter((pl.col("kind") == "course") & pl.Series(rng.random(sessions.height) < 0.85))
    n, share = course.height, course["holes"].to_numpy() / 18.0
    scatter = trait_line(effects, player.player_id, "scatter")[course["day"].to_numpy()]
    tee_shots = np.round(14.0 * share).astype(np.int64)
    penalties = rng.poisson(_PENALTIES[player.standard] * share * scatter**1.5)
    over = _STROKES_OVER_PAR[player.standard] * share + rng.normal(0.0, 2.6, n) * np.sqrt(share)
    cards = pl.DataFrame(
        {
            "player_id": course["player_id"],
            "day": course["day"],
            "course": np.full(n, player.home_course),
            "holes": course["holes"],
            "tee_shots": tee_shots,
            "fairways": rng.binomial(tee_shots, np.clip(_FAIRWAYS[player.standard] / scatter**0.7, 0.1, 0.9)),
            "penalties": np.minimum(penalties, tee_shots),
            "strokes": np.round(72.0 * share + over + 0.5 * penalties).astype(np.int64),
        }
    )
    return _with_event(cards, player)


def _with_event(cards: pl.DataFrame, player: Player) -> pl.DataFrame:
    """The cards with the event that they belong to, and their number in it."""
    at_home = player.player_id in GROUPS["Club team"] and player.home_course == EVENT_COURSE
    enters = pl.lit(at_home) & (pl.col("holes") == 18) & (pl.col("day") >= (EVENT_FROM - START_ON).days)
    number = enters.cast(pl.Int64).cum_sum()
    counts = enters & (number <= EVENT_ROUNDS)
    return cards.with_columns(event=pl.when(counts).then(pl.lit(EVENT)), event_round=pl.when(counts).then(number))
