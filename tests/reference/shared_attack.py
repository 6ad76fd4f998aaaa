"""What somebody who keeps everything that an academy ever shared can find out by adding and subtracting: by linear algebra.

Unknowns are persons (values that stay the same over the months: then differences of months cancel most), or values (each level
that a new session made is an unknown of its own). A sum that was shared is one equation. Equations can be combined into one
about few unknowns exactly when their rank falls once the columns of these few are taken out.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from numpy.typing import NDArray

Equation = dict[str, float]
"""Unknown to its coefficient."""


def system(equations: Sequence[Equation]) -> tuple[NDArray[np.float64], list[str]]:
    names = sorted({name for equation in equations for name in equation})
    place = {name: at for at, name in enumerate(names)}
    matrix = np.zeros((len(equations), len(names)))
    for row, equation in enumerate(equations):
        for name, value in equation.items():
            matrix[row, place[name]] = value
    return matrix, names


def narrowest(equations: Sequence[Equation], owner: dict[str, str], fewest: int) -> frozenset[str]:
    """The fewest persons, below ``fewest``, that a combination of the equations is about; empty: no combination is.

    ``owner``: unknown to person. Unknowns that all equations treat alike cannot be told apart: a combination holds all of
    them or none, so that only unions of such classes are tried, and no union is left out.
    """
    if not equations:
        return frozenset()
    matrix, names = system(equations)
    basis = _basis(matrix)
    gram = basis.T @ basis
    classes: dict[bytes, set[str]] = {}
    for at, name in enumerate(names):
        classes.setdefault(np.round(matrix[:, at], 9).tobytes(), set()).add(name)
    place = {name: at for at, name in enumerate(names)}
    theirs: dict[str, set[int]] = {}
    for name in names:
        theirs.setdefault(owner[name], set()).add(place[name])
    # Persons all of whose unknowns fall into the same classes stand or fall together.
    kind: dict[frozenset[bytes], list[str]] = {}
    for person, columns in theirs.items():
        kind.setdefault(frozenset(np.round(matrix[:, at], 9).tobytes() for at in columns), []).append(person)
    # A combination within some columns needs a leverage of 1 in them: most choices are out of question.
    leverage = {person: float((basis[:, sorted(columns)] ** 2).sum()) for person, columns in theirs.items()}
    small = [(sum(leverage[person] for person in persons), persons) for persons in kind.values() if len(persons) < fewest]
    for about in _choices(sorted(small, key=lambda each: -each[0]), fewest):
        if _isolates(gram, {at for person in about for at in theirs[person]}):
            return about
    return frozenset()


def _choices(
    small: list[tuple[float, list[str]]], fewest: int, chosen: tuple[str, ...] = (), so_far: float = 0.0, start: int = 0
) -> Iterator[frozenset[str]]:
    """Unions of classes of fewer than ``fewest`` persons with a leverage of 1; classes come by falling leverage."""
    for at in range(start, len(small)):
        weight, persons = small[at]
        if so_far + weight * (fewest - 1 - len(chosen)) < 1 - 1e-6:
            return  # nor can any that comes later
        more = (*chosen, *persons)
        if len(more) < fewest:
            if so_far + weight > 1 - 1e-6:
                yield frozenset(more)
            yield from _choices(small, fewest, more, so_far + weight, at + 1)


def _basis(matrix: NDArray[np.float64]) -> NDArray[np.float64]:
    """Orthonormal rows that span the same combinations."""
    _, values, rows = np.linalg.svd(matrix, full_matrices=False)
    return rows[values > 1e-9 * max(matrix.shape)]


def _isolates(gram: NDArray[np.float64], columns: Iterable[int]) -> bool:
    """Whether a combination vanishes outside these columns: within them it keeps its whole length."""
    inside = sorted(columns)
    return bool(np.linalg.eigvalsh(gram[np.ix_(inside, inside)])[-1] > 1 - 1e-7)
