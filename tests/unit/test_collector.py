"""How often Python looks for circular garbage."""

from __future__ import annotations

import gc

from pipelines.collector import collect_seldom


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
