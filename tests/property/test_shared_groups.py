"""No sum or difference of what an academy ever shared is about fewer than five persons, whoever comes and goes."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

import numpy as np
import polars as pl
import pytest

from pipelines.measures.federation.cohorts import FEWEST, Cohort, Person, fewest_told_apart, formed, is_new_enough
from pipelines.measures.federation.month import SCATTER, SPEED, month_end, month_of_blocks, month_of_levels
from tests.reference.shared_attack import Equation, narrowest

MONTHS = [dt.date(2025 + at // 12, at % 12 + 1, 1) for at in range(14)]


@dataclass
class World:
    """An academy over fourteen months: people come, pause, leave and are erased; some sessions have no scatter."""

    seed: int
    n: int
    rng: np.random.Generator = field(init=False)
    people: list[dict[str, object]] = field(default_factory=list)
    levels: list[dict[str, object]] = field(default_factory=list)
    erased: set[str] = field(default_factory=set)

    def __post_init__(self) -> None:
        self.rng = np.random.default_rng(self.seed)
        for _ in range(self.n):
            self.join()

    def join(self) -> None:
        number = len(self.people)
        self.people.append(
            {
                "mark": f"{self.rng.integers(16**6):06x}{number}",
                "sex": [None, "female", "male", "male"][int(self.rng.integers(4))],
                "birth_year": [None, 1980, 2009, 2011][int(self.rng.integers(4))],
                "standard": [None, "80", "scratch"][int(self.rng.integers(3))],
                "left_on": None,
            }
        )

    def month(self, month_on: dt.date) -> None:
        for _ in range(int(self.rng.poisson(self.n / 20))):
            self.join()
        for person in self.people:
            chance = self.rng.random()
            if person["left_on"] or person["mark"] in self.erased:
                continue
            if chance < 0.02:
                person["left_on"] = month_on + dt.timedelta(days=10)
            elif chance < 0.03:
                self.erased.add(str(person["mark"]))
            elif chance < 0.80:
                self.swing(str(person["mark"]), month_on)

    def swing(self, mark: str, month_on: dt.date) -> None:
        day = month_on + dt.timedelta(days=int(self.rng.integers(28)))
        for metric, usual in ((SPEED, 45.0), (SCATTER, 14.0)):
            if metric == SPEED or self.rng.random() < 0.9:
                level = usual * float(np.exp(0.08 * self.rng.standard_normal()))
                self.levels.append({"mark": mark, "metric": metric, "session_id": f"{day}", "on_date": day, "level": level})

    def frames(self) -> tuple[pl.DataFrame, pl.DataFrame]:
        people = pl.DataFrame(
            [person for person in self.people if person["mark"] not in self.erased],
            schema={"mark": pl.String, "sex": pl.String, "birth_year": pl.Int64, "standard": pl.String, "left_on": pl.Date},
        )
        levels = pl.DataFrame([one for one in self.levels if one["mark"] not in self.erased])
        return people, levels


def shared_by(world: World) -> list[tuple[dt.date, Cohort, bool]]:
    """Month, cohort, and whether its scatter was shared too: everything that was shared, in order."""
    cohorts: tuple[Cohort, ...] = ()
    told: list[tuple[dt.date, Cohort, bool]] = []
    for month_on in MONTHS:
        world.month(month_on)
        made = month_of_levels(cohorts, (), *world.frames(), month_on)
        cohorts = made.cohorts
        by_number = {one.number: one for one in cohorts}
        rows = made.rows.select("cohort", "scatter_centre_m").iter_rows()
        told += [(month_on, by_number[number], scatter is not None) for number, scatter in rows]
    return told


def systems(world: World, told: list[tuple[dt.date, Cohort, bool]]) -> dict[str, tuple[list[Equation], dict[str, str]]]:
    """The attacker's equations: of persons, and of values, for speed and for scatter."""
    found = {}
    for metric, sums in ((SPEED, told), (SCATTER, [one for one in told if one[2]])):
        persons = [dict.fromkeys(one.members, 1.0) for _, one, _ in sums]
        found[f"{metric}, persons"] = (persons, {mark: mark for _, one, _ in sums for mark in one.members})
        values, owner = [], {}
        for month_on, one, _ in sums:
            equation = {}
            for mark in one.members:
                days = [
                    each["on_date"]
                    for each in world.levels
                    if each["mark"] == mark and each["metric"] == metric and each["on_date"] <= month_end(month_on)
                ]
                equation[f"{mark} {max(days)}"] = 1.0
                owner[f"{mark} {max(days)}"] = mark
            values.append(equation)
        found[f"{metric}, values"] = (values, owner)
    return found


@pytest.mark.parametrize(("seed", "n"), [(1, 24), (3, 14)])
def test_a_year_of_sums_and_differences_is_about_nobody_alone(seed: int, n: int) -> None:
    world = World(seed, n)
    told = shared_by(world)
    assert len(told) > 5
    for name, (equations, owner) in systems(world, told).items():
        assert narrowest(equations, owner, FEWEST) == frozenset(), name


def test_the_attack_finds_what_a_careless_academy_would_share() -> None:
    """The same months shared as they come, everybody who has swung: differences are about single persons."""
    world = World(1, 24)
    sums = []
    for month_on in MONTHS[:3]:
        world.month(month_on)
        sums.append({str(one["mark"]): 1.0 for one in world.levels if one["on_date"] >= month_on})
    assert 0 < len(narrowest(sums, {mark: mark for one in sums for mark in one}, FEWEST)) < FEWEST


def test_the_attack_sees_through_chains_of_differences() -> None:
    """Each month is five persons away from the one before, and the third two away from the first."""
    a, b = [f"a{at}" for at in range(10)], [f"b{at}" for at in range(10)]
    sums = [a, [*a, *b[:5]], [*a, *b[1:5], b[5], b[6]], [*a[:9], *b[:5]]]
    equations = [dict.fromkeys(one, 1.0) for one in sums]
    owner = {mark: mark for mark in (*a, *b)}
    assert narrowest(equations[:2], owner, FEWEST) == frozenset()
    assert narrowest(equations[:3], owner, FEWEST) == frozenset({"b0", "b5", "b6"})
    assert narrowest([equations[1], equations[3]], owner, FEWEST) == frozenset({"a9"})


def test_cohorts_are_alike_where_five_are_and_nobody_stands_in_two() -> None:
    men = [Person(f"m{at}", "male", "18_24", "80") for at in range(11)]
    others = [Person(f"o{at}", "male", band, "90") for at, band in enumerate(("14_15", "16_17", "25_39", "40_54", None))]
    women = [Person(f"w{at}", "female", "18_24", "80") for at in range(4)]
    cohorts = formed([*women, *others, *men], (), 3)
    assert [(one.number, one.sex, one.age_band, one.standard, len(one.members)) for one in cohorts] == [
        (3, "male", "18_24", "80", 11),
        (4, "male", None, "90", 5),
    ]
    assert not frozenset(one.mark for one in women) & frozenset().union(*(one.members for one in cohorts))


def test_many_are_dealt_into_cohorts_of_about_eight() -> None:
    cohorts = formed([Person(f"p{at:02}") for at in range(40)], (), 1)
    assert sorted(len(one.members) for one in cohorts) == [8] * 5


def test_who_was_told_before_is_shared_again_only_beside_five_others() -> None:
    persons = [Person(f"p{at}") for at in range(11)]
    told = {f"p{at}" for at in range(7)}
    assert formed(persons, told, 1) == []
    (one,) = formed(persons, told - {"p6"}, 1)
    assert len(one.members) == 11


def test_a_cohort_is_shared_anew_when_five_have_swung_since() -> None:
    last_on = {f"p{at}": dt.date(2026, 3, 1 + at) for at in range(8)}
    members = frozenset(last_on)
    assert is_new_enough(members, last_on, dt.date(2026, 3, 3))
    assert not is_new_enough(members, last_on, dt.date(2026, 3, 4))


@pytest.mark.parametrize(
    ("batch", "fewest"),
    [("abcde", 5), ("abcdefghij", 5), ("abcd", 1), ("abcdefg", 2), ("abcdexyz", 3), ("vwxyz", 5), ("abfgx", 5)],
)
def test_a_batch_is_set_against_the_growth_of_cohorts(batch: str, fewest: int) -> None:
    cohorts = [frozenset("abcde"), frozenset("fghij")]
    assert fewest_told_apart(batch, cohorts) == fewest
    sums = [dict.fromkeys(one, 1.0) for one in (*cohorts, batch)]
    found = narrowest(sums, {mark: mark for mark in "abcdefghijvwxyz"}, FEWEST)
    assert bool(found) == (fewest < FEWEST)


def test_persons_whom_two_cohorts_tell_apart_count_for_themselves() -> None:
    """Of ten, nine went on beside five others: the tenth stands alone, and a batch of just the ten would let it be seen."""
    first, second = frozenset("abcdefghij"), frozenset("abcdefghivwxyz")
    assert fewest_told_apart(first, [first, second]) == 1
    assert fewest_told_apart(first, [first]) == 10


@pytest.mark.parametrize(("seed", "n_cohorts"), [(0, 3), (1, 1), (3, 1), (4, 0), (5, 0)])
def test_batches_of_blocks_are_about_five_or_more_beside_each_other_and_the_growth_of_cohorts(seed: int, n_cohorts: int) -> None:
    """Effects taken to be the same in all blocks of a person, and to be the growth that cohorts tell."""
    rng = np.random.default_rng(seed)
    marks = [f"p{at:02}" for at in range(30 if n_cohorts > 1 else 11)]
    shared = ((MONTHS[0], 44.0), (MONTHS[-1], 45.0))
    cohorts = [Cohort(at + 1, frozenset(marks[at * 9 : at * 9 + 9]), shared=shared) for at in range(n_cohorts)]
    told: frozenset[str] = frozenset()
    batches: list[frozenset[str]] = []
    blocks: list[dict[str, object]] = []
    for month_on in MONTHS:
        for mark in rng.choice(marks, int(rng.integers(1, 7)), replace=False):
            span = {"began_on": month_on, "ended_on": month_on + dt.timedelta(days=20)}
            effect = {"effect_pct": 1.5 + float(rng.standard_normal()), "error_pct": 0.6}
            blocks.append({"mark": str(mark), "block": f"{mark} {month_on}"} | span | effect)
        made = month_of_blocks(pl.DataFrame(blocks), told, batches, cohorts, month_on)
        told |= made.told
        batches += [made.persons] if made.persons else []
    sums = [dict.fromkeys(one, 1.0) for one in (*(one.members for one in cohorts), *batches)]
    assert len(batches) > 0
    assert narrowest(sums, {mark: mark for mark in marks}, FEWEST) == frozenset()
