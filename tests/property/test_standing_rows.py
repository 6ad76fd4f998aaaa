"""Nights that build on each other leave the tables that a whole computation makes, to the last digit, whatever happened."""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

import polars as pl
import pytest

from pipelines.stages.crew import ahead, crew
from pipelines.stages.measure.trends import squad_trends, trends_by_player
from pipelines.stages.night_steps import AHEAD, MEASURES
from pipelines.stages.stale import Renewal, differing
from tests.broad import BROAD, some_of
from tests.reference.histories import Academies
from warehouse.connection import frame, scalar

if TYPE_CHECKING:
    from collections.abc import Callable

    import duckdb

    from tests.property.conftest import Pair


Rounds = tuple[tuple[str, ...], ...]
ROUNDS: dict[str, Rounds] = {
    "two nights": (
        ("a_day_goes_by", "a_file_comes_late", "a_session_is_corrected", "a_file_is_withdrawn"),
        ("a_trial_is_declared", "the_next_month_comes"),
    ),
    "five nights": (
        ("a_day_goes_by", "a_file_comes_late"),
        ("a_session_is_corrected", "air_is_corrected", "a_file_is_withdrawn"),
        ("settings_change",),
        ("a_trial_is_declared", "the_next_month_comes"),
        ("a_player_is_erased",),
    ),
}


@pytest.mark.parametrize("nights", some_of(ROUNDS, every=2))
def test_whatever_happens_the_tables_are_those_of_a_whole_computation(pair: Pair, nights: str) -> None:
    both = Academies(*pair, seed=3, n_players=4, n_sessions=9)
    both.night()
    for table in ("trend_point", "pattern_month", "stroke_month", "comparable_shot"):
        assert scalar(both.built, f'select count(*) from "{table}"') > 0
    for together in ROUNDS[nights]:
        for happens in together:
            getattr(both, happens)()
        both.night()
        assert both.differing() == [], together


def test_what_is_begun_ahead_reads_what_its_step_will(pair: Pair) -> None:
    """Nothing that a night writes between the beginning of a stage and its step is read by it."""
    both = Academies(*pair, seed=3, n_players=4, n_sessions=9)
    both.a_trial_is_declared()
    begun: dict[str, tuple[Callable[..., None], pl.DataFrame]] = {}
    n_told = 0
    with crew():
        for step, measure in MEASURES:
            under_way = ahead()
            assert under_way is not None
            for stage, (begin, known) in begun.items():
                if stage in under_way:
                    begin(both.built, both.academy, both.today)
                    assert _known(under_way[stage]).equals(known), (stage, step)
                    n_told += known.height
            for begin in AHEAD.get(step, ()):
                before = set(under_way)
                begin(both.built, both.academy, both.today)
                begun |= {stage: (begin, _known(under_way[stage])) for stage in under_way.keys() - before}
            measure(both.built, both.academy, both.today)
        assert n_told > 0
        assert begun.keys() == {"flights", "trials"}
        assert ahead() == {}


def _known(begun: object) -> pl.DataFrame:
    assert isinstance(begun, Renewal)
    return begun.known.sort("unit")


def _differing(con: duckdb.DuckDBPyConnection, both: Academies) -> list[str]:
    """Tables of trends whose rows are not those that are computed from the first session on."""
    apart = trends_by_player(squad_trends(con, both.academy, both.today).parts)
    return differing(con, apart, pl.Series(both.players))[1]


def _follow(both: Academies) -> None:
    """A night in one of them, up to trends."""
    last = [name for name, _ in MEASURES].index("Following trends")
    for _, measure in MEASURES[: last + 1]:
        measure(both.built, both.academy, both.today)


@BROAD
def test_trends_go_on_from_what_stands_of_closed_months(pair: Pair) -> None:
    """What ``doctor`` compares with is computed from the first session on, whatever stands."""
    both = Academies(*pair, seed=5, n_players=3, n_sessions=20)
    _follow(both)
    states = frame(both.built, "select * from trend_state")
    assert states["n_sessions"].min() > 0  # type: ignore[operator]
    assert states["month_on"].max() < both.today.replace(day=1)  # type: ignore[operator]
    both.practise(both.players[0], both.today)
    _follow(both)
    assert _differing(both.built, both) == [], "gone on from"
    both.built.execute("update trend_state set state = list_transform(state, lambda one: one + 0.5)").fetchall()
    assert _differing(both.built, both) == ["trend_state"]
    both.practise(both.players[0], both.today)
    _follow(both)
    assert "trend_point" in _differing(both.built, both), "what stands is not computed again"
    for player in both.players:
        both.practise(player, both.today.replace(day=1) - timedelta(days=70))
    _follow(both)
    assert _differing(both.built, both) == [], "no state stands when a file comes that is older"
    both.a_player_is_erased()
    assert frame(both.built, "select * from trend_state").is_empty()
    _follow(both)
    assert set(frame(both.built, "select player_id from trend_state")["player_id"]) == set(both.players)


@pytest.mark.benchmark
@pytest.mark.parametrize("seed", range(4, 10))
def test_each_event_alone_in_random_order(pair: Pair, seed: int) -> None:
    both = Academies(*pair, seed, n_players=7, n_sessions=16)
    both.night()
    events = both.events()
    for number in both.rng.permutation(2 * len(events)):
        events[number % len(events)]()
        both.night()
        assert both.differing() == [], events[number % len(events)].__name__
