"""The list of attacks names tests that are there, and is long enough to mean something."""

from __future__ import annotations

import ast
import tomllib
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
LIST = tomllib.loads((ROOT / "tests" / "attacks.toml").read_text(encoding="utf-8"))
PROBES = [
    (tries, test if "::" in test else f"{group['file']}::{test}", told)
    for group in LIST.values()
    for tries, test, told in group["probes"]
]


@cache
def named_tests(path: str) -> frozenset[str]:
    tree = ast.parse((ROOT / path).read_text(encoding="utf-8"))
    return frozenset(node.name for node in ast.walk(tree) if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"))


def test_there_are_at_least_sixty_probes_and_each_is_told_once() -> None:
    assert len(PROBES) >= 60
    assert len({tries for tries, _, _ in PROBES}) == len(PROBES)
    assert all(tries and told for tries, _, told in PROBES)


@pytest.mark.parametrize(("tries", "test"), [(tries, test) for tries, test, _ in PROBES], ids=[tries for tries, _, _ in PROBES])
def test_the_test_that_makes_the_attempt_is_there(tries: str, test: str) -> None:
    path, _, name = test.partition("::")
    assert name in named_tests(path), tries
