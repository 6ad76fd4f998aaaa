"""Load and answers by day: whatever night they are gone on from, the rows are those of a whole computation, to the last digit."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
import pytest

from pipelines.measures.body.history import Before, answer_history, first_read
from pipelines.measures.body.items import ITEMS
from pipelines.measures.load.grid import DayGrid
from pipelines.stages.measure.body import answers_differing, measure_body
from pipelines.stages.measure.load import days_differing, measure_load
from pipelines.stages.stale import known_estimates
from schemas.academy import Academy
from schemas.core import core_tables
from tests.reference.histories import Academies, tables_differing
from warehouse.connection import frame, insert_frame, scalar
from warehouse.units import forget_units

if TYPE_CHECKING:
    from collections.abc import Callable

    import duckdb

    from tests.property.conftest import Pair

BEGIN, N_PLAYERS, N_DAYS = date(2025, 1, 8), 6, 330
ASKED = ("fatigue", "sleep_h", "stiff_neck", "stiff_lower_back")


class Squad:
    """Answers and sessions without shots in two warehouses: in one nights build on each other, in the other each is whole."""

    def __init__(self, built: duckdb.DuckDBPyConnection, whole: duckdb.DuckDBPyConnection, seed: int) -> None:
        self.both, self.rng = (built, whole), np.random.default_rng(seed)
        self.academy = Academy(name="Test", time_zone="UTC", id_key=b"k" * 16)
        self.today, self.number = BEGIN + timedelta(days=N_DAYS), 0
        self.noted: dict[str, list[dict[str, object]]] = {"checkin": [], "session": []}
        self.players = [f"p{k}" for k in range(N_PLAYERS)]
        self._do("insert into academy values ('Test', 'UTC')")
        for player in self.players:
            self._do(
                "insert into player by name select ? as player_id, ? as alias, 2000 as birth_year, true as health_consent, "
                "'f' as file_id, 1 as line",
                [player, player.upper()],
            )
        # players are sore for weeks at different times; the last is silent in between
        self.sore = {player: BEGIN + timedelta(days=int(self.rng.integers(100, N_DAYS + 40))) for player in self.players}
        for number in range(N_DAYS + 1):
            for player in self.players:
                if player != "p5" or not 120 < number < 260:
                    self._note_day(player, BEGIN + timedelta(days=number))
        self._put()

    def _do(self, sql: str, params: list[object] | None = None) -> None:
        for con in self.both:
            con.execute(sql, params or []).fetchall()

    def _note_day(self, player: str, on: date) -> None:
        """Perhaps an answer, perhaps a session."""
        self.number += 1
        told = {"player_id": player, "file_id": "f", "line": self.number}
        if self.rng.random() < 0.7:
            is_sore = timedelta() <= on - self.sore[player] < timedelta(days=150)
            answers = np.clip(np.round(self.rng.normal(5.5 if is_sore else 1.5, 1.2, len(ASKED)) * 3) / 3, 0, 10).tolist()
            self.noted["checkin"].append({**told, "date": on, **dict(zip(ASKED, answers, strict=True)), "sleep_h": 7.3})
        if self.rng.random() < 0.6:
            swings = int(self.rng.integers(20, 90) * (3 if self.rng.random() < 0.06 else 1))
            done = {"kind": "range", "swings_full": swings, "effort": int(self.rng.integers(2, 9)), "duration_min": 47.3}
            at = datetime.combine(on, time(10))
            self.noted["session"].append({**told, "session_id": f"s{self.number}", "started_at": at, **done})

    def _put(self) -> None:
        """What was noted, into both."""
        for table, rows in self.noted.items():
            types = core_tables()[table].polars_schema()
            noted = pl.DataFrame(rows, infer_schema_length=None)
            for con in self.both:
                insert_frame(con, table, noted.cast({name: types[name] for name in noted.columns}))
            rows.clear()

    def a_day_of(self, player: str, on: date) -> None:
        """What a player does on one day."""
        self._note_day(player, on)
        self._put()

    def _some_day(self, back: tuple[int, int]) -> date:
        return self.today - timedelta(days=int(self.rng.integers(*back)))

    def days_go_by(self) -> None:
        """A few days, or some weeks."""
        n = int(self.rng.choice([1, 1, 2, 9, 40]))
        for _ in range(n):
            self.today += timedelta(days=1)
            for player in self.players:
                self._note_day(player, self.today)
        self._put()

    def nobody_does_anything(self) -> None:
        """For weeks; the first of a month lies among them, and nights go on."""
        self.today = (self.today + timedelta(days=20)).replace(day=1) + timedelta(days=32)

    def the_last_days_are_withdrawn(self) -> None:
        """The newest files are taken back: the last known day lies earlier."""
        self.today -= timedelta(days=int(self.rng.integers(1, 4)))
        self._do("delete from checkin where date > ?", [self.today])
        self._do("delete from session where cast(started_at as date) > ?", [self.today])

    def a_late_file_comes(self) -> None:
        """Answers and a session of weeks or months ago, of a day without any."""
        for back in ((1, 40), (60, 200)):
            player, on = str(self.rng.choice(self.players)), self._some_day(back)
            self._do("delete from checkin where player_id = ? and date = ?", [player, on])
            self.a_day_of(player, on)

    def answers_are_corrected(self) -> None:
        """An answer of this month, and one of long ago."""
        for back in ((0, 10), (100, 250)):
            self._do("update checkin set stiff_neck = 9 where date = ?", [self._some_day(back)])

    def sessions_are_sent_again(self) -> None:
        """Under other names."""
        self._do(
            "update session set session_id = session_id || '-again' where cast(started_at as date) < ?",
            [self._some_day((50, 90))],
        )

    def days_without_a_row_are_off(self) -> None:
        """Or unknown again."""
        self.academy = replace(self.academy, day_without_row="off" if self.academy.day_without_row == "unknown" else "unknown")

    def consent_is_taken_back(self) -> None:
        """One player's answers are no longer read; later they are again."""
        self._do(
            "update player set health_consent = not health_consent where player_id = ?", [str(self.rng.choice(self.players))]
        )

    def a_player_is_erased(self) -> None:
        """Every row is gone, and nothing that was noted stands."""
        player = self.players.pop(0)
        for table in ("checkin", "session", "player"):
            self._do(f'delete from "{table}" where player_id = ?', [player])
        for con in self.both:
            forget_units(con)

    def night(self) -> None:
        forget_units(self.both[1])
        for con in self.both:
            measure_load(con, self.academy, self.today)
            measure_body(con, self.academy, self.today)

    def differing(self) -> list[str]:
        return tables_differing(*self.both)


def begin_on(squad: Squad, stage: str) -> list[str]:
    """Days that are kept of a stage."""
    return [text for text in known_estimates(squad.both[0], stage)._known.values() if '"held"' in text or '"told"' in text]


@pytest.mark.parametrize("seed", [0, *(pytest.param(seed, marks=pytest.mark.benchmark) for seed in range(1, 6))])
def test_whatever_happens_the_days_are_those_of_a_whole_computation(pair: Pair, seed: int) -> None:
    squad = Squad(*pair, seed)
    squad.night()
    for kind in ("body_stiff", "body_fatigue", "load_jump"):
        assert scalar(pair[0], "select count(*) from flag_candidate where kind = ?", [kind]) > 0
    assert any('"held": {"' in text for text in begin_on(squad, "body")), "a normal is held when a kept day begins"
    happens: tuple[Callable[[], None], ...] = (
        squad.days_go_by, squad.the_last_days_are_withdrawn, squad.days_go_by, squad.a_late_file_comes, squad.days_go_by,
        squad.answers_are_corrected, squad.consent_is_taken_back, squad.consent_is_taken_back, squad.a_player_is_erased,
        squad.days_go_by, squad.sessions_are_sent_again, squad.days_without_a_row_are_off, squad.days_go_by,
        squad.nobody_does_anything, squad.nobody_does_anything,
    )  # fmt: skip
    for event in (*happens, *(happens[int(place)] for place in squad.rng.integers(0, len(happens) - 1, 8))):
        event()
        squad.night()
        assert squad.differing() == [], event.__name__


def test_weeks_without_a_row_are_told_too(pair: Pair) -> None:
    """What is read of the days before a new Monday is then what was read of those before the last one."""
    squad = Squad(*pair, 7)
    squad.night()
    for event in (squad.nobody_does_anything, squad.nobody_does_anything, squad.days_go_by):
        event()
        squad.night()
        assert squad.differing() == [], event.__name__


def test_swings_of_closed_weeks_are_seen_when_another_club_struck_them(
    pair: Pair,
) -> None:
    """How many there were, and how fast, is what it was."""
    both = Academies(*pair, seed=6, n_players=2, n_sessions=30)

    def night() -> list[str]:
        forget_units(both.whole)
        for con in pair:
            measure_load(con, both.academy, both.today)
        return both.differing()

    def everywhere(sql: str) -> None:
        for con in pair:
            con.execute(sql).fetchall()

    everywhere("update shot set club_speed_mps = 0.85 * club_speed_mps where struck_at < '2026-03-10'")
    assert night() == []
    assert frame(both.built, "select swings_full_effort as n from load_session")["n"].n_unique() > 5
    everywhere("update shot set club = '4-hybrid' where club = '7-iron'")
    assert night() == []
    both.practise(both.players[0], both.today)
    assert night() == [], "usual fast swings are those of sixty days, though one month is asked for"
    both.practise(both.players[1], both.today - timedelta(days=75))
    assert night() == []


def test_days_that_stand_are_not_told_again_and_what_was_changed_there_is_seen(
    pair: Pair,
) -> None:
    squad, con = Squad(*pair, 3), pair[0]
    squad.night()
    assert len(begin_on(squad, "body")) == len(begin_on(squad, "load by day")) == 3
    old = squad.today - timedelta(days=70)
    con.execute("update body_week set mean_answer = mean_answer + 1 where week_starting < ?", [old]).fetchall()
    con.execute("update load_day set minutes = minutes + 1 where on_date < ?", [old]).fetchall()
    squad.days_go_by()
    squad.night()
    assert squad.differing() == ["body_week", "load_day"], "rows of closed days stand"
    assert answers_differing(con, squad.today) == ["body_week"]
    assert days_differing(con, squad.academy, squad.today) == ["load_day"]
    squad.a_player_is_erased()
    assert scalar(con, "select count(*) from squad_estimate") == 0
    squad.night()
    assert squad.differing() == []
    assert answers_differing(con, squad.today) == days_differing(con, squad.academy, squad.today) == []


def test_whichever_monday_they_are_gone_on_from_answers_tell_the_same_of_the_days_after_it() -> None:
    """Rises end, and items are asked no more, on either side of such a Monday."""
    first_on, n_days, rng = date(2025, 1, 6), 420, np.random.default_rng(8)
    rows = [
        {"player_id": f"p{player}", "on_date": first_on + timedelta(days=day), "sleep_h": 7.3}
        | {name: told(rng, name, player, day) for name in ASKED[2:]}
        for day in range(n_days) for player in range(8) if rng.random() < 0.6
    ]  # fmt: skip
    nobody_asked = [pl.lit(None, dtype=pl.Float64).alias(name) for name in ITEMS if name not in {"sleep_h", *ASKED[2:]}]
    answers = pl.DataFrame(rows, infer_schema_length=None).with_columns(nobody_asked)
    grid = DayGrid(tuple(f"p{player}" for player in range(8)), first_on, first_on + timedelta(days=n_days - 1))
    mondays = [first_on + timedelta(weeks=week) for week in range(1, n_days // 7)]
    whole = answer_history(answers, grid, first_on, Before(), mondays)
    assert any(whole.before[on].held for on in mondays)
    for monday in mondays[:-3]:
        last_on = monday + timedelta(days=20) if monday.day > 7 else grid.last_on
        read = replace(grid, first_on=max(first_read(monday), first_on), last_on=last_on)
        later = [on for on in mondays if monday < on <= last_on]
        some = answers.filter(pl.col("on_date").is_between(read.first_on, last_on))
        part = answer_history(some, read, monday, whole.before[monday], later)
        for day, of_part, of_whole in (("week_starting", part.weeks, whole.weeks), ("on_date", part.rises, whole.rises)):
            same = pl.concat(of_whole).filter(pl.col(day).is_between(monday, last_on))
            assert pl.concat(of_part).sort(pl.all()).equals(same.sort(pl.all())), monday
        if last_on == grid.last_on:
            after = pl.concat(whole.days).filter(pl.col("on_date") >= monday)
            assert pl.concat(part.days).sort(pl.all()).equals(after.sort(pl.all())), monday
        assert part.before == {on: whole.before[on] for on in later}


def told(rng: np.random.Generator, name: str, player: int, day: int) -> float | None:
    """An answer: a neck is asked about with a break of half a year; stiffness comes and goes."""
    if name == "stiff_neck" and 170 < day < 340:
        return None
    is_sore = (day + 50 * player) % 200 < 30 + 8 * player
    return float(np.clip(round(rng.normal(6.0 if is_sore else 1.0, 1.0) * 3) / 3, 0, 10))
