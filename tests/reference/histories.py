"""Random histories of a small academy: shots that come late, are corrected, withdrawn or erased, and settings that change."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from pipelines.stages.crew import crew
from pipelines.stages.night_steps import AHEAD, MEASURES
from schemas.academy import Academy, ReferenceAir
from schemas.core import core_tables
from schemas.files import KINDS
from warehouse.connection import frame, insert_frame
from warehouse.units import forget_units

if TYPE_CHECKING:
    from collections.abc import Callable

    import duckdb

BEGIN = date(2026, 1, 5)
FROM_FILES = {*(kind.table for kind in KINDS.values()), "file", "problem", "superseded_row", "academy", "club"}
NOT_COMPARED = {"stage_unit", "squad_estimate", "night_state", "trend_state"}


class Academies:
    """The same rows in two warehouses: in one nights build on each other, in the other each is computed whole.

    Parameters
    ----------
    built, whole : duckdb connections
    seed : int
    n_players, n_sessions, n_shots : int
        Of the beginning, in the first hundred days.
    """

    def __init__(
        self, built: duckdb.DuckDBPyConnection, whole: duckdb.DuckDBPyConnection, seed: int, n_players: int, n_sessions: int
    ) -> None:
        self.built, self.whole = built, whole
        self.rng = np.random.default_rng(seed)
        self.academy = Academy(name="Test", time_zone="UTC", id_key=b"k" * 16)
        self.today = BEGIN + timedelta(days=100)
        self.number = 0
        self._both("insert into academy values ('Test', 'UTC')")
        self.players = [f"p{k:02d}" for k in range(n_players)]
        for k, player in enumerate(self.players):
            self._both(
                "insert into player by name select ? as player_id, ? as alias, ? as birth_year, true as health_consent, "
                "'f' as file_id, 1 as line",
                [player, player.upper(), 1990 + k],
            )
            for day in sorted(self.rng.choice(100, n_sessions, replace=False)):
                self.practise(player, BEGIN + timedelta(days=int(day)))

    def _both(self, sql: str, params: list[object] | None = None) -> None:
        for con in (self.built, self.whole):
            con.execute(sql, params or []).fetchall()

    def practise(self, player: str, on: date) -> None:
        """A session of a player on a day."""
        self.number += 1
        name, n = f"s{self.number:04d}", int(self.rng.integers(9, 16))
        place = self.rng.integers(0, 3)
        session = pl.DataFrame(
            {
                "session_id": [name],
                "player_id": [player],
                "started_at": [_ten(on)],
                "kind": ["range"],
                "device_id": [("unit-1", "unit-2", None)[place]],
                "ball": [("premium", "range", None)[self.rng.integers(0, 3)]],
                "indoors": [bool(self.rng.random() < 0.2)],
                "air_temp_c": [None if self.rng.random() < 0.1 else float(self.rng.normal(15, 8))],
                "wind_mps": [float(abs(self.rng.normal(2, 2)))],
                "wind_from_deg": [float(self.rng.uniform(0, 360))],
                "effort": [int(self.rng.integers(2, 9))],
                "duration_min": [60.0],
                "file_id": ["f"],
                "line": [self.number],
            }
        )
        for con in (self.built, self.whole):
            insert_frame(con, "session", _typed(session, "session"))
        self._strike(name, player, on, n)

    def _strike(self, name: str, player: str, on: date, n: int) -> None:
        speed = self.rng.normal(45.0 + 0.3 * int(player[1:]), 0.7, n)
        carry = 210.0 + 5.0 * (speed - 45.0) + self.rng.normal(0, 6, n)
        shots = pl.DataFrame(
            {
                "session_id": name,
                "player_id": player,
                "shot_no": np.arange(1, n + 1),
                "struck_at": [_ten(on) + timedelta(minutes=k) for k in range(n)],
                "club": ["7-iron" if k % 5 == 4 else "driver" for k in range(n)],
                "club_speed_mps": speed,
                "ball_speed_mps": speed * self.rng.normal(1.45, 0.01, n),
                "launch_deg": self.rng.normal(12.5, 1.0, n),
                "direction_deg": self.rng.normal(0.0, 2.0, n),
                "spin_rpm": np.where(self.rng.random(n) < 0.1, np.nan, self.rng.normal(2800.0, 250.0, n)),
                "spin_axis_deg": self.rng.normal(0.0, 4.0, n),
                "carry_m": carry,
                "offline_m": self.rng.normal(0.0, 12.0, n),
                "file_id": "f",
                "line": np.arange(1, n + 1),
            }
        ).with_columns(pl.col("spin_rpm").fill_nan(None))
        for con in (self.built, self.whole):
            insert_frame(con, "shot", _typed(shots, "shot"))

    def _some_session(self) -> tuple[str, str, date]:
        rows = frame(
            self.whole, "select session_id, player_id, cast(started_at as date) as on_date from session order by 1"
        ).rows()
        session_id, player_id, on = rows[int(self.rng.integers(0, len(rows)))]
        return str(session_id), str(player_id), on

    def a_day_goes_by(self) -> None:
        """The next day, with sessions of two players."""
        self.today += timedelta(days=int(self.rng.integers(1, 5)))
        for player in self.rng.choice(self.players, 2, replace=False):
            self.practise(str(player), self.today)

    def the_next_month_comes(self) -> None:
        """The first of the next month."""
        self.today = (self.today.replace(day=1) + timedelta(days=32)).replace(day=1)
        self.practise(self.players[0], self.today)

    def a_file_comes_late(self) -> None:
        """A session of weeks ago."""
        self.practise(str(self.rng.choice(self.players)), self.today - timedelta(days=int(self.rng.integers(10, 80))))

    def a_session_is_corrected(self) -> None:
        """Other shots in place of a session's."""
        name, player, on = self._some_session()
        self._both("delete from shot where session_id = ?", [name])
        self._strike(name, player, on, 11)

    def air_is_corrected(self) -> None:
        """Another temperature and ball of a session."""
        self._both("update session set air_temp_c = 31.5, ball = 'range' where session_id = ?", [self._some_session()[0]])

    def a_file_is_withdrawn(self) -> None:
        """A session is gone."""
        name = self._some_session()[0]
        self._both("delete from shot where session_id = ?", [name])
        self._both("delete from session where session_id = ?", [name])

    def a_player_is_erased(self) -> None:
        """Every row of a player is gone, derived ones too; nothing that was noted stands."""
        player = self.players.pop(int(self.rng.integers(0, len(self.players))))
        for table in ("shot", "session", "player"):
            self._both(f'delete from "{table}" where player_id = ?', [player])
        for con in (self.built, self.whole):
            forget_units(con)

    def settings_change(self) -> None:
        """Another reference air, another standard."""
        air = ReferenceAir(temp_c=float(self.rng.integers(10, 30)))
        self.academy = replace(self.academy, reference_air=air, standard=str(self.rng.choice(["80", "scratch"])))

    def a_trial_is_declared(self) -> None:
        """Shots of a session turn out to be those of a changed arm."""
        name, player, on = self._some_session()
        self._both(
            "insert into trial values (?, ?, 'Wider', 'normal', 'normal | more', ?, null, null, null, 'f', 2)",
            [f"t-{name}", player, on],
        )
        self._both("update shot set trial_id = ?, arm = 'more' where session_id = ? and shot_no > 6", [f"t-{name}", name])

    def events(self) -> tuple[Callable[[], None], ...]:
        """What may happen."""
        return (
            self.a_day_goes_by,
            self.a_file_comes_late,
            self.a_session_is_corrected,
            self.air_is_corrected,
            self.a_file_is_withdrawn,
            self.settings_change,
            self.a_trial_is_declared,
            self.the_next_month_comes,
            self.a_player_is_erased,
        )

    def night(self) -> None:
        """A night in both; in the one whose nights build on each other stages are begun ahead of their steps."""
        forget_units(self.whole)
        with crew():
            for step, measure in MEASURES:
                for one in (*AHEAD.get(step, ()), measure):
                    one(self.built, self.academy, self.today)
        for _, measure in MEASURES:
            measure(self.whole, self.academy, self.today)

    def differing(self) -> list[str]:
        return tables_differing(self.built, self.whole)


def tables_differing(*both: duckdb.DuckDBPyConnection) -> list[str]:
    """Derived tables that are not the same to the last digit in two warehouses."""

    def is_same(name: str) -> bool:
        built, whole = (frame(con, f'select * from "{name}" order by all') for con in both)
        return built.equals(whole)

    return [name for name in sorted(core_tables().keys() - FROM_FILES - NOT_COMPARED) if not is_same(name)]


def _ten(on: date) -> datetime:
    return datetime.combine(on, time(10))


def _typed(rows: pl.DataFrame, table: str) -> pl.DataFrame:
    types = core_tables()[table].polars_schema()
    return rows.cast({name: types[name] for name in rows.columns})
