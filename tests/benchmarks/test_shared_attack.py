"""Larger academies over fourteen months under the attack, and how many of those who swing are shared at all."""

from __future__ import annotations

import pytest

from pipelines.measures.federation.cohorts import FEWEST
from tests.property.test_shared_groups import World, shared_by, systems
from tests.reference.shared_attack import narrowest

pytestmark = pytest.mark.benchmark


@pytest.mark.parametrize("n", [20, 40, 60])
@pytest.mark.parametrize("seed", [21, 22])
def test_no_difference_is_about_fewer_than_five(seed: int, n: int) -> None:
    world = World(seed, n)
    told = shared_by(world)
    found = {name: narrowest(*system, FEWEST) for name, system in systems(world, told).items()}
    last = max(month for month, _, _ in told)
    swung = {each["mark"] for each in world.levels if each["on_date"] >= last}
    held = frozenset().union(*(one.members for month, one, _ in told if month == last)) & swung
    cohorts = len({one.members for _, one, _ in told})
    print(f"\n{n} players, seed {seed}: {len(told)} sums, {cohorts} cohorts, {len(held) / len(swung):.2f} shared")  # noqa: T201 - a benchmark shows its figures
    assert {name: about for name, about in found.items() if about} == {}
