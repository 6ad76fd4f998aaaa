"""How often Python looks for circular garbage, and memory that is given back."""

from __future__ import annotations

import gc

import psutil
import pytest

from pipelines import collector
from pipelines.collector import collect_seldom, give_back_memory


def n_searches_while_objects_are_made(n: int) -> int:
    before = gc.get_stats()[0]["collections"]
    kept = [[] for _ in range(n)]
    assert len(kept) == n
    return gc.get_stats()[0]["collections"] - before


def test_a_start_makes_many_objects_and_looks_for_garbage_seldom() -> None:
    usual = gc.get_threshold()
    try:
        gc.set_threshold(700, 10, 10)
        assert n_searches_while_objects_are_made(15_000) >= 15
        collect_seldom()
        assert n_searches_while_objects_are_made(15_000) <= 1
        assert gc.get_threshold()[1:] == (10, 10)
    finally:
        gc.set_threshold(*usual)


def test_what_was_freed_below_what_stays_is_given_back(monkeypatch: pytest.MonkeyPatch) -> None:
    """Pieces too small to be given back by themselves, under one that stays; of little nothing is."""
    monkeypatch.setattr(collector, "_held", 0)
    pieces = [bytearray(b"x" * 40_000) for _ in range(2_000)]
    pieces = pieces[-1:]
    before = psutil.Process().memory_info().rss
    with pytest.MonkeyPatch.context() as little:
        little.setattr(collector, "_held", before - collector.WORTH_BYTES // 2)
        give_back_memory()
        assert before - psutil.Process().memory_info().rss < 4_000_000
    give_back_memory()
    assert before - psutil.Process().memory_info().rss > 40_000_000
    assert len(pieces) == 1
