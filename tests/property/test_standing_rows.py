"""Nights that build on each other leave the tables that a whole computation makes, to the last digit, whatever happened."""

from __future__ import annotations

import shutil
from contextlib import ExitStack
from typing import TYPE_CHECKING

import pytest

from tests.reference.histories import Academies
from warehouse.connection import open_warehouse, scalar

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import duckdb

    Pair = tuple[duckdb.DuckDBPyConnection, duckdb.DuckDBPyConnection]


@pytest.fixture
def pair(tmp_path: Path, migrated: Path) -> Iterator[Pair]:
    with ExitStack() as stack:
        paths = [tmp_path / f"{name}.duckdb" for name in ("built", "whole")]
        for path in paths:
            shutil.copy(migrated, path)
        built, whole = (stack.enter_context(open_warehouse(path)) for path in paths)
        yield built, whole


def test_whatever_happens_the_tables_are_those_of_a_whole_computation(pair: Pair) -> None:
    both = Academies(*pair, seed=3, n_players=4, n_sessions=9)
    both.night()
    for table in ("trend_point", "pattern_month", "stroke_month", "comparable_shot"):
        assert scalar(both.built, f'select count(*) from "{table}"') > 0
    for together in (
        (both.a_day_goes_by, both.a_file_comes_late),
        (both.a_session_is_corrected, both.air_is_corrected, both.a_file_is_withdrawn),
        (both.settings_change,),
        (both.a_trial_is_declared, both.the_next_month_comes),
        (both.a_player_is_erased,),
    ):
        for happens in together:
            happens()
        both.night()
        assert both.differing() == [], [happens.__name__ for happens in together]


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
