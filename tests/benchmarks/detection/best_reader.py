"""What the sessions of a making can hold: readers who know how they come about, and nothing else that a detector has to learn.

They are told the noise of form and shots, that form does not resemble the session before, and the shape of what is planted; a
detector that estimates all of that cannot do better but by chance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from tests.benchmarks.detection.makings import STEP_TO, Making, Series

Floats = NDArray[np.float64]

WINDOW, LEARNING, BACK = 60.0, 60.0, 120.0
"""Days within which a fall counts as told, after which looks begin, and how long ago it may have begun."""

EVENTS, QUIET = 20, 160
"""Of a squad of 200: players who fall slowly, as many who fall in a day, and the others."""


@dataclass(frozen=True)
class Told:
    """How falls are told at the limit that makes the most of recall and precision."""

    recall: float
    precision: float
    f1: float


def products(x: Floats, weight: Floats, shapes: Floats) -> tuple[Floats, Floats]:
    """After each session: products of values with shapes, and of shapes with themselves, about a level that is not known."""
    total, of_x = np.cumsum(weight)[:, None], np.cumsum(weight * x)[:, None]
    of_shape = np.cumsum(weight[:, None] * shapes, axis=0)
    with_x = np.cumsum((weight * x)[:, None] * shapes, axis=0) - of_x * of_shape / total
    return with_x, np.cumsum(weight[:, None] * shapes**2, axis=0) - of_shape**2 / total


def fall_ratios(one: Series, onset: float | None) -> Floats:
    """Log likelihood ratio of a fall after each session: of one that began then, or summed over every second day of 120."""
    begins = np.arange(0.0, one.day[-1], 2.0) if onset is None else np.array([onset])
    ramp = STEP_TO * 0.8 * np.clip((one.day[:, None] - begins) / 42.0, 0.0, 1.0)
    shapes = [ramp] if onset is not None else [ramp, STEP_TO * (one.day[:, None] >= begins)]
    may = (begins < one.day[:, None]) & (begins >= one.day[:, None] - BACK)
    ratios = []
    for shape in shapes:
        with_x, with_self = products(one.value, 1.0 / one.variance, shape)
        ratios.append(np.where(may, with_x - 0.5 * with_self, -np.inf))
    return np.asarray(np.logaddexp.reduce(np.concatenate(ratios, axis=1), axis=1))


def best_f1(falling: list[Series], stepped: list[Series], quiet: list[Series], knows_onset: bool) -> Told:
    """Recall, precision and F1 of drifts in a squad as the makings have it, at the best of many limits.

    Who knows the onset looks for 60 days from then on, also at the others; who does not looks at everybody, all the time.
    """
    largest: dict[str, list[float]] = {"falling": [], "before": [], "stepped": [], "quiet": []}
    for name, players in (("falling", falling), ("stepped", stepped), ("quiet", quiet)):
        for one in players:
            ratios = fall_ratios(one, one.onset if knows_onset else None)
            since, looked = one.day - one.onset, one.day >= LEARNING
            near = (since >= 0) & ((since <= WINDOW) | (name == "stepped"))
            if name == "quiet" and not knows_onset:
                near = looked
            largest[name].append(ratios[near].max(initial=-np.inf))
            if name == "falling":
                largest["before"].append(-np.inf if knows_onset else ratios[looked & (since < 0)].max(initial=-np.inf))
    best = Told(0.0, 0.0, 0.0)
    for limit in np.linspace(0.0, 14.0, 141):
        share = {name: float(np.mean(np.array(values) > limit)) for name, values in largest.items()}
        true = EVENTS * (share["falling"] + share["stepped"])
        false = QUIET * share["quiet"] + EVENTS * share["before"]
        if true > 0.0:
            recall, precision = share["falling"], true / (true + false)
            f1 = 2.0 * recall * precision / (recall + precision)
            best = max(best, Told(recall, precision, f1), key=lambda told: told.f1)
    return best


SLOPES = np.array([0.003, 0.006, 0.009, 0.012, 0.016, 0.020]) / 28.0
STEADY = np.array([20.0, 4.0, 2.0, 1.0, 0.6, 0.3])
"""Slopes of a rise [a day], and how likely each is of one that goes on where slow ones mostly do."""


def stop_ratios(one: Series, slow_go_on: bool) -> Floats:
    """Log likelihood ratio of a rise that stopped against one that goes on and against none, start, slope and bend averaged over.

    ``slow_go_on``: slow rises mostly go on, and are none that stop; else all slopes are alike.
    """
    goes_on = STEADY if slow_go_on else np.ones(SLOPES.size)
    stops = np.array([0.0, 1.0, 2.0, 2.0, 2.0, 1.0]) if slow_go_on else goes_on
    day, weight = one.day[:, None], 1.0 / one.variance
    starts = np.arange(-40.0, one.day[-1], 7.0)
    rising = _over_slopes(products(one.value, weight, np.clip(day - starts, 0.0, None)), goes_on)
    still = _mean_log(rising, starts < day - 10.0)
    bends, parts = np.arange(0.0, one.day[-1], 4.0), []
    for length in (42.0, 84.0, 126.0, 200.0, 330.0):
        stopped = _over_slopes(products(one.value, weight, np.clip(day - (bends - length), 0.0, length)), stops)
        parts.append(_mean_log(stopped, (bends < day - 3.0) & (bends > day - 100.0)))
    return np.asarray(np.logaddexp.reduce(parts, axis=0) - np.log(len(parts)) - np.logaddexp(still, 0.0))


def _over_slopes(of: tuple[Floats, Floats], weights: Floats) -> Floats:
    with np.errstate(divide="ignore"):
        prior = np.log(weights / weights.sum())
    each = SLOPES * of[0][..., None] - 0.5 * SLOPES**2 * of[1][..., None] + prior
    return np.asarray(np.logaddexp.reduce(each, axis=-1))


def _mean_log(ratios: Floats, may: NDArray[np.bool_]) -> Floats:
    summed = np.logaddexp.reduce(np.where(may, ratios, -np.inf), axis=1)
    return np.asarray(summed - np.log(np.maximum(may.sum(axis=1), 1)))


def largest_within(players: list[Series], ratios: list[Floats], days: float) -> Floats:
    """Of each player the largest ratio from the onset on, for so many days."""
    near = [(one.day >= one.onset) & (one.day <= one.onset + days) for one in players]
    return np.array([told[at].max(initial=-np.inf) for told, at in zip(ratios, near, strict=True)])


STEPS = np.array([-0.05, -0.035, -0.025, -0.0175, -0.01, 0.01, 0.0175, 0.025, 0.035, 0.05])
"""Sizes of a step, all alike, of one who does not know it."""


def steps_held(players: list[Series], sizes: Floats, bias: float = 0.0) -> dict[str, float]:
    """Share of exact 90 % intervals of the level that hold it: at the first session after a step, and within 14 days.

    The posterior of a level that stays but for one step: the making's noise is known, every session is as likely to be the first
    after it, once in all sessions of the player. ``bias``: what is known of how much better sessions are than the level.
    """
    first, all_of = [], []
    for one in players:
        after = np.flatnonzero((one.day >= one.onset) & (one.day < one.onset + 14.0))
        for place, session in enumerate(after[: None if (one.day < one.onset).sum() >= 8 else 0]):
            value, weight = one.value[: session + 1] - bias, 1.0 / one.variance[: session + 1]
            low, high = _interval(value, weight, sizes, 1.0 / one.day.size)
            all_of.append(low <= one.true[session] <= high)
            first += all_of[-1:] if place == 0 else []
    return {"first": float(np.mean(first)), "14 days": float(np.mean(all_of))}


def _interval(value: Floats, weight: Floats, sizes: Floats, rate: float) -> tuple[float, float]:
    session = np.arange(value.size)
    chance, mean = [], []
    for size in sizes:
        moved = value[:, None] - size * (session[:, None] >= np.arange(value.size + 1))
        middle = (weight[:, None] * moved).sum(axis=0) / weight.sum()
        prior = np.full(value.size + 1, rate / sizes.size)
        prior[0], prior[-1] = 0.0, (1.0 - rate * (value.size - 1)) / sizes.size
        with np.errstate(divide="ignore"):
            chance.append(np.log(prior) - 0.5 * (weight[:, None] * (moved - middle) ** 2).sum(axis=0))
        mean.append(middle + size * (np.arange(value.size + 1) < value.size))
    logs, means, sd = np.concatenate(chance), np.concatenate(mean), weight.sum() ** -0.5
    shares = np.exp(logs - np.logaddexp.reduce(logs))
    grid = np.linspace(means.min() - 5.0 * sd, means.max() + 5.0 * sd, 2000)
    below = (shares * ndtr((grid[:, None] - means) / sd)).sum(axis=1)
    return float(np.interp(0.05, below, grid)), float(np.interp(0.95, below, grid))


def bias_of(making: Making) -> float:
    """By how much sessions lie above the level where half of those whose form lies .8 deviations below it are left out."""
    density, share = np.exp(-0.5 * 0.8**2) / np.sqrt(2.0 * np.pi), ndtr(-0.8)
    return float(making.form * 0.5 * density / (1.0 - 0.5 * share)) if making.skips_bad else 0.0
