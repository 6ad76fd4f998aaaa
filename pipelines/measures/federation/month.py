"""What an academy shares of one month: levels, growth and scatter of its cohorts, and what speed blocks brought."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from pipelines.measures.federation.cohorts import FEWEST, Cohort, Person, fewest_told_apart, formed, is_new_enough
from pipelines.measures.federation.pooling import random_effects
from schemas.shared import SHARED_BLOCK, SHARED_LEVEL, age_band

SPEED, SCATTER = "club_speed_mps", "scatter_side_m"
KEPT_DAYS = 365
"""How long the last level of a member counts: a cohort stays the same for a season. Own choice."""
JOIN_DAYS = 92
"""Who joins has swung in the last quarter of a year. Own choice."""
YEAR_MONTHS = 12


@dataclass(frozen=True)
class MonthOfLevels:
    """Rows of ``shared_level``, and the cohorts as they stand after them."""

    rows: pl.DataFrame
    cohorts: tuple[Cohort, ...]


@dataclass(frozen=True)
class _Values:
    """Last levels by the end of a month: mark to value [100 ln], and to the day of the session."""

    x: dict[str, float]
    on: dict[str, dt.date]


def month_end(month_on: dt.date) -> dt.date:
    """Last day of the month."""
    return (month_on.replace(day=28) + dt.timedelta(days=4)).replace(day=1) - dt.timedelta(days=1)


def _values(levels: pl.DataFrame, metric: str, end: dt.date) -> _Values:
    known = levels.filter(
        pl.col("metric") == metric, pl.col("on_date") <= end, pl.col("on_date") > end - dt.timedelta(days=KEPT_DAYS)
    )
    last = known.sort("mark", "on_date", "session_id").group_by("mark", maintain_order=True).last()
    marks = last["mark"].to_list()
    x = 100.0 * np.log(last["level"].to_numpy())
    return _Values(dict(zip(marks, x.tolist(), strict=True)), dict(zip(marks, last["on_date"].to_list(), strict=True)))


def month_of_levels(
    cohorts: Sequence[Cohort], told: Collection[str], people: pl.DataFrame, levels: pl.DataFrame, month_on: dt.date
) -> MonthOfLevels:
    """Levels, growth and scatter of driver speed, cohort by cohort.

    Parameters
    ----------
    cohorts : sequence of Cohort
        As they stood after the month before.
    told : collection of str
        Marks of persons of whom something may have been shared that no cohort knows of.
    people : polars.DataFrame
        mark, sex, birth_year, standard of everybody, and left_on where they left.
    levels : polars.DataFrame
        mark, metric, session_id, on_date, level [m/s, m]: level of speed and of left-right scatter after each driver session.
    month_on : date
        First day of the month.

    Returns
    -------
    MonthOfLevels
        Centres are geometric means, spreads standard deviations of ``100 ln``; rounded to 0.01 m/s, 0.01 m and 0.1 %.

    Notes
    -----
    Growth: this month's centre over the one that was shared twelve months before (or first), so that it says nothing further; its
    spread only when all members have swung since. Scatter only when all have one.

    Source: own rule
    Checked: tests/unit/test_shared_month.py
    """
    end = month_end(month_on)
    speed, scatter = _values(levels, SPEED, end), _values(levels, SCATTER, end)
    kept = [replace(one, ended=one.ended or not one.members <= speed.x.keys()) for one in cohorts]
    taken = frozenset().union(*(one.members for one in kept if not one.ended))
    ever = frozenset(told).union(*(one.members for one in kept))
    waiting = [person for person in _persons(people, end) if person.mark not in taken and _may_join(person.mark, speed, end)]
    kept += formed(waiting, ever, len(kept) + 1)
    labelled = _labelled(kept, {person.mark: person for person in _persons(people, end, also_left=True)}, month_on)
    shared = [_shared(one, speed, scatter, levels, month_on) for one in labelled]
    rows = [row for _, row in shared if row is not None]
    frame = pl.DataFrame(rows, schema=SHARED_LEVEL.polars_schema() | {"academy": pl.String()}, orient="row")
    return MonthOfLevels(frame, tuple(one for one, _ in shared))


def _persons(people: pl.DataFrame, end: dt.date, *, also_left: bool = False) -> list[Person]:
    here = people if also_left else people.filter(pl.col("left_on").is_null() | (pl.col("left_on") > end))
    return [
        Person(mark, sex, age_band(born, end.year), standard)
        for mark, sex, born, standard in here.select("mark", "sex", "birth_year", "standard").iter_rows()
    ]


def _may_join(mark: str, speed: _Values, end: dt.date) -> bool:
    return mark in speed.on and speed.on[mark] > end - dt.timedelta(days=JOIN_DAYS)


def _labelled(cohorts: list[Cohort], known: dict[str, Person], month_on: dt.date) -> list[Cohort]:
    """With what members have in common, looked at once a year: a change within it would be about the one who changed."""
    found = []
    for one in cohorts:
        if one.ended or (one.shared and one.shared[-1][0].year == month_on.year):
            found.append(one)
            continue
        members = [known.get(mark, Person(mark)) for mark in sorted(one.members)]
        found.append(
            replace(
                one,
                sex=_common({person.sex for person in members}),
                age_band=_common({person.age_band for person in members}),
                standard=_common({person.standard for person in members}),
            )
        )
    return found


def _common(values: set[str | None]) -> str | None:
    return next(iter(values)) if len(values) == 1 else None


def _shared(
    one: Cohort, speed: _Values, scatter: _Values, levels: pl.DataFrame, month_on: dt.date
) -> tuple[Cohort, dict[str, object] | None]:
    if one.ended or (one.shared and not is_new_enough(one.members, speed.on, month_end(one.shared[-1][0]))):
        return one, None
    members = sorted(one.members)
    centre, spread = _centre([speed.x[mark] for mark in members])
    row: dict[str, object] = {
        "month_on": month_on, "cohort": one.number, "sex": one.sex, "age_band": one.age_band, "standard": one.standard,
        "n_persons": len(members), "speed_centre_mps": centre, "speed_spread_pct": spread,
        **_growth(one, speed, levels, month_on, centre),
    }  # fmt: skip
    has_scatter = one.members <= scatter.x.keys() and (
        one.scatter_on is None or is_new_enough(one.members, scatter.on, month_end(one.scatter_on))
    )
    if has_scatter:
        row["scatter_centre_m"], row["scatter_spread_pct"] = _centre([scatter.x[mark] for mark in members])
    after = replace(one, shared=(*one.shared, (month_on, centre)), scatter_on=month_on if has_scatter else one.scatter_on)
    return after, row


def _centre(values: list[float]) -> tuple[float, float]:
    x = np.array(values)
    return round(float(np.exp(x.mean() / 100.0)), 2), round(float(x.std(ddof=1)), 1)


def _growth(one: Cohort, speed: _Values, levels: pl.DataFrame, month_on: dt.date, centre: float) -> dict[str, object]:
    if not one.shared:
        return {}
    year_ago = month_on.replace(year=month_on.year - 1)
    since, before = next((each for each in reversed(one.shared) if each[0] <= year_ago), one.shared[0])
    growth: dict[str, object] = {"since_on": since, "growth_pct": round(float(100.0 * np.log(centre / before)), 2)}
    then = _values(levels, SPEED, month_end(since))
    if all(mark in then.x and speed.on[mark] > month_end(since) for mark in one.members):
        changes = np.array([speed.x[mark] - then.x[mark] for mark in sorted(one.members)])
        growth["growth_spread_pct"] = round(float(changes.std(ddof=1)), 1)
    return growth


@dataclass(frozen=True)
class MonthOfBlocks:
    """Rows of ``shared_block``; marks of the blocks behind them, and of the persons."""

    rows: pl.DataFrame
    told: frozenset[str]
    persons: frozenset[str]


def month_of_blocks(
    blocks: pl.DataFrame,
    told: Collection[str],
    batches: Sequence[Collection[str]],
    cohorts: Sequence[Cohort],
    month_on: dt.date,
) -> MonthOfBlocks:
    """What speed blocks that are over brought, as one estimate of the academy, each block in one estimate only.

    Parameters
    ----------
    blocks : polars.DataFrame
        mark (person), block (mark of the block), began_on, ended_on, effect_pct (change of speed, 100 ln), error_pct.
    told : collection of str
        Marks of blocks that were shared.
    batches : sequence of collections of str
        Marks of the persons behind each estimate that was shared.
    cohorts : sequence of Cohort
    month_on : date

    Returns
    -------
    MonthOfBlocks
        No row while fewer than five persons have ended a block, or while an earlier estimate, or the growth that cohorts tell of
        the same time, could be set against it and leave fewer than five (:func:`fewest_told_apart`); the blocks wait.

    Notes
    -----
    A person's blocks are first brought together, weighted by precision; then persons by random effects.

    Source: own rule
    Checked: tests/unit/test_shared_month.py
    """
    over = blocks.filter(pl.col("ended_on") <= month_end(month_on), ~pl.col("block").is_in(sorted(told)))
    persons, empty = frozenset(over["mark"]), pl.DataFrame(schema=SHARED_BLOCK.polars_schema())
    if len(persons) < FEWEST or fewest_told_apart(persons, [*batches, *_spanning(cohorts, over)]) < FEWEST:
        return MonthOfBlocks(empty, frozenset(), frozenset())
    weight = 1.0 / pl.col("error_pct") ** 2
    own = (
        over.sort("mark", "began_on")
        .group_by("mark", maintain_order=True)
        .agg(effect=(pl.col("effect_pct") * weight).sum() / weight.sum(), variance=1.0 / weight.sum())
    )
    pooled = random_effects(own["effect"].to_numpy(), own["variance"].to_numpy())
    row = {
        "month_on": month_on,
        "batch": len(batches) + 1,
        "n_persons": len(persons),
        "n_blocks": over.height,
        "effect_pct": round(pooled.mean, 2),
        "error_pct": max(round(pooled.error, 2), 0.01),
    }
    return MonthOfBlocks(pl.DataFrame([row], schema=empty.schema, orient="row"), frozenset(over["block"]), persons)


def _spanning(cohorts: Sequence[Cohort], over: pl.DataFrame) -> list[frozenset[str]]:
    """Members of cohorts whose growth over a time that meets the blocks' can be told: they were shared more than once."""
    first, last = over["began_on"].min(), over["ended_on"].max()
    return [
        one.members
        for one in cohorts
        if len(one.shared) > 1 and one.shared[0][0] <= last and month_end(one.shared[-1][0]) >= first  # type: ignore[operator]
    ]
