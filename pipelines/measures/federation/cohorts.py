"""Groups of persons of whom sums may be shared: formed so that no difference of what was ever shared is about fewer than five.

Why it holds
------------
Whoever reads all that an academy ever shared can form any weighted sum of it. Take one, and in it the newest sum that counts.

* *Persons.* That newest sum is about a cohort that was shared before, person by person the same, or about one with at least five
  persons of whom nothing was shared before (:func:`formed`). Of the latter the weighted sum holds all five, for nothing else
  in it is about them. The former adds no new combination of persons. So no weighted sum is about one to four persons,
  whoever came and went between the months, and whether values are taken to stay the same or not.
* *Values.* A cohort is shared anew only when at least five of its persons have swung since it was last shared
  (:func:`is_new_enough`), so that the difference of two months is about the changes of at least five.
* *Complements.* Each person is in one cohort a month, and no total over them is shared: a reader adds cohorts up. So there is no
  total from which a cell that was held back could be taken.

A cohort ends when one of its persons is erased, or has not swung for a year. Those who remain are shared again when five others
join them of whom nothing was shared before. Somebody who leaves counts with the last level until then: that is what keeps the
cohort the same, and why a handful of cohorts of eight or so, not one of thirty, is formed.

What it does not do: hide a person from four others of a cohort of five who put their own values together; hide that somebody is a
player of the academy; or keep a reader from guessing with what else is known.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass

FEWEST = 5
"""Persons below whom nothing is shared."""
ABOUT = 8
"""Persons of a cohort: more than the fewest, so that five have swung in most months; few, so that one erasure ends little."""


@dataclass(frozen=True)
class Person:
    """Somebody who may join a cohort.

    Attributes
    ----------
    mark : str
        Stands for the person, and tells nobody who it is.
    sex, age_band, standard : str or None
        None: not known.
    """

    mark: str
    sex: str | None = None
    age_band: str | None = None
    standard: str | None = None


@dataclass(frozen=True)
class Cohort:
    """Persons of whom sums are shared, always all of them.

    Attributes
    ----------
    number : int
        Unique in the academy.
    members : frozenset of str
        Marks.
    sex, age_band, standard : str or None
        What they have in common; None: mixed, or not known.
    shared : tuple of (date, float)
        First day of each month for which speed was shared, and the centre as it was shared [m/s].
    scatter_on : date or None
        Newest month for which scatter was shared.
    ended : bool
    """

    number: int
    members: frozenset[str]
    sex: str | None = None
    age_band: str | None = None
    standard: str | None = None
    shared: tuple[tuple[dt.date, float], ...] = ()
    scatter_on: dt.date | None = None
    ended: bool = False


_FINER_FIRST: tuple[tuple[str, ...], ...] = (
    ("sex", "age_band", "standard"),
    ("sex", "age_band"),
    ("sex", "standard"),
    ("sex",),
    ("age_band",),
    (),
)


def formed(waiting: Sequence[Person], told: Collection[str], first_number: int) -> list[Cohort]:
    """Cohorts of those who wait, each with at least five persons of whom nothing was shared before.

    Parameters
    ----------
    waiting : sequence of Person
        In no cohort that stands.
    told : collection of str
        Marks of everybody who ever was in a cohort.
    first_number : int

    Returns
    -------
    list of Cohort
        Alike in sex, age and standard where five are; the others by less. Who finds no place goes on waiting.

    Notes
    -----
    Persons are dealt out in the order of their marks, which have nothing to do with how they swing.

    Source: [HundepoolWillenborg2012]
    Checked: tests/property/test_shared_groups.py
    """
    cohorts: list[Cohort] = []
    left = sorted(waiting, key=lambda person: person.mark)
    for names in _FINER_FIRST:
        cells: dict[tuple[str | None, ...], list[Person]] = defaultdict(list)
        for person in left:
            cells[tuple(getattr(person, name) for name in names)].append(person)
        for key, persons in sorted(cells.items(), key=lambda item: tuple(part or "" for part in item[0])):
            common = dict(zip(names, key, strict=True))
            for members in _dealt(persons, told):
                number = first_number + len(cohorts)
                cohorts.append(Cohort(number, members, common.get("sex"), common.get("age_band"), common.get("standard")))
        placed = frozenset().union(*(cohort.members for cohort in cohorts))
        left = [person for person in left if person.mark not in placed]
    return cohorts


def _dealt(persons: Sequence[Person], told: Collection[str]) -> list[frozenset[str]]:
    """Persons of one cell in cohorts, those of whom nothing was shared before spread evenly over them."""
    fresh = [person.mark for person in persons if person.mark not in told]
    known = [person.mark for person in persons if person.mark in told]
    if len(fresh) < FEWEST:
        return []
    n = max(1, min(len(fresh) // FEWEST, len(persons) // ABOUT))
    return [frozenset((*fresh[at::n], *known[at::n])) for at in range(n)]


def is_new_enough(members: Collection[str], last_on: dict[str, dt.date], shared_until: dt.date) -> bool:
    """Whether at least five of them have swung since a day.

    Parameters
    ----------
    members : collection of str
    last_on : dict
        Mark to the day of the newest session that counts.
    shared_until : date
        Last day that was counted when they were last shared.

    Notes
    -----
    Source: own rule. Checked: tests/property/test_shared_groups.py
    """
    return sum(mark in last_on and last_on[mark] > shared_until for mark in members) >= FEWEST


def fewest_told_apart(batch: Collection[str], earlier: Sequence[Collection[str]]) -> int:
    """How many persons the narrowest difference of a batch's sum and of earlier sums is about, at least.

    Parameters
    ----------
    batch : collection of str
    earlier : sequence of collections of str
        Whom the sums were about against which it can be set: batches, and cohorts whose growth over the same time can be told.

    Notes
    -----
    Persons whom no earlier sum tells apart stand alike in any sum of these. So a difference holds those of them in the batch, or
    the others, or all: at least ``min(in, out)``. Where these are all 0, the next narrowest holds one such set as a whole.

    Source: own rule
    Checked: tests/property/test_shared_groups.py
    """
    inside, whole = Counter[tuple[int, ...]](), Counter[tuple[int, ...]]()
    for mark in frozenset(batch).union(*earlier):
        pattern = tuple(at for at, persons in enumerate(earlier) if mark in persons)
        whole[pattern] += 1
        inside[pattern] += mark in batch
    alike = [pattern for pattern in whole if pattern]
    least = inside[()] + sum(min(inside[pattern], whole[pattern] - inside[pattern]) for pattern in alike)
    return least or min(whole[pattern] for pattern in alike)
