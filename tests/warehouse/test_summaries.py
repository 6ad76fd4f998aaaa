from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import pytest

from pipelines.stages.measure.patterns import measure_patterns
from pipelines.stages.measure.summaries import measure_summaries
from pipelines.stages.measure.trends import measure_trends
from schemas.academy import Academy
from warehouse.connection import frame

if TYPE_CHECKING:
    import duckdb

ACADEMY = Academy(name="Test", time_zone="America/New_York")
NIGHT = date(2026, 12, 31)


def seed(con: duckdb.DuckDBPyConnection) -> None:
    con.execute("insert into academy values ('Test', 'America/New_York')").fetchall()
    con.execute(
        "insert into session by name select 's1' as session_id, 'p1' as player_id, timestamp '2026-03-02 02:00' as started_at, "
        "'range' as kind, 'd1' as device_id, 'f' as file_id, 2 as line"
    ).fetchall()
    con.execute(
        "insert into trial values"
        " ('t1', 'p1', 'Wider stance', 'normal', 'normal | more', date '2026-03-01', null, null, null, 'f', 2)"
    ).fetchall()


STRIKE = """
insert into shot by name
select 's1' as session_id, 'p1' as player_id, i as shot_no, timestamp '2026-03-02 02:00' as struck_at, 'driver' as club,
  ? as club_speed_mps, 1.4 * ? as ball_speed_mps, 'f' as file_id, i as line {rest}
from range(?, ?) as numbers(i)
"""


def strike(con: duckdb.DuckDBPyConnection, first: int, n: int, speed: float, rest: str = "") -> None:
    con.execute(STRIKE.format(rest=rest), [speed, speed, first, first + n]).fetchall()


def test_counting_shots_of_the_normal_swing_are_summarised_by_local_day(con: duckdb.DuckDBPyConnection) -> None:
    seed(con)
    strike(con, 1, 5, 45.0)
    strike(con, 6, 5, 30.0, ", false as counts")
    strike(con, 11, 5, 45.0, ", 't1' as trial_id, 'normal' as arm")
    strike(con, 16, 5, 49.0, ", 't1' as trial_id, 'more' as arm")
    measure_summaries(con, ACADEMY, NIGHT)
    rows = frame(con, "select * from session_club").rows(named=True)
    assert len(rows) == 1
    assert rows[0]["on_date"] == date(2026, 3, 1)
    assert (rows[0]["n_shots"], rows[0]["club_speed_mps_centre"]) == (10, 45.0)
    assert abs(rows[0]["speed_ratio_centre"] - 1.4) < 1e-12


def test_a_night_sees_nothing_of_later_days_and_a_second_time_changes_nothing(con: duckdb.DuckDBPyConnection) -> None:
    seed(con)
    strike(con, 1, 5, 45.0)
    measure_summaries(con, ACADEMY, date(2026, 2, 28))
    assert frame(con, "select * from session_club").is_empty()
    measure_summaries(con, ACADEMY, NIGHT)
    once = frame(con, "select * from session_club")
    measure_summaries(con, ACADEMY, NIGHT)
    assert frame(con, "select * from session_club").equals(once)


def test_trends_follow_the_restated_carry_and_not_the_measured_one(con: duckdb.DuckDBPyConnection) -> None:
    seed(con)
    strike(con, 1, 8, 45.0, ", 200.0 + i as carry_m, 5.0 as offline_m")
    con.execute(
        "insert into comparable_shot by name select session_id, shot_no, player_id, date '2026-03-01' as on_date, club, "
        "'driver' as club_group, 'anchored' as method, '' as reason, carry_m + 15 as carry_m, offline_m, 0.0 as direction_deg, "
        "20.0 as run_m, 1.0 as ball_factor, 'premium' as factor_source from shot"
    ).fetchall()
    measure_summaries(con, ACADEMY, NIGHT)
    measure_patterns(con, ACADEMY, NIGHT)
    measure_trends(con, ACADEMY, NIGHT)
    carried = frame(con, "select value from trend_point where metric = 'comparable_carry_m'")
    assert carried["value"].to_list() == [pytest.approx(219.5, abs=0.5)]
