"""Linear mixed model by restricted maximum likelihood, with crossed or nested random terms, on sparse equations."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.optimize import minimize
from scipy.sparse.linalg import splu

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]


@dataclass(frozen=True)
class RandomTerm:
    """One random term.

    Attributes
    ----------
    group : (n,) array
        Group of each observation, 0 to g - 1.
    design : (n, q) array
        What varies by group: ones for an intercept, a further column for a slope.
    """

    group: Integers
    design: Floats

    @property
    def n_groups(self) -> int:
        """How many groups."""
        return int(self.group.max()) + 1

    @property
    def q(self) -> int:
        """Effects of each group."""
        return int(self.design.shape[1])

    def matrix(self) -> sparse.csc_matrix:
        """Design of the term's effects, group by group: (n, g q)."""
        n = self.group.size
        rows = np.repeat(np.arange(n), self.q)
        columns = (self.group[:, None] * self.q + np.arange(self.q)).ravel()
        return sparse.csc_matrix((self.design.ravel(), (rows, columns)), shape=(n, self.n_groups * self.q))


@dataclass(frozen=True)
class MixedFit:
    """A fitted mixed model.

    Attributes
    ----------
    fixed, fixed_se : (p,) arrays
        Fixed effects and their standard errors.
    covariances : tuple of (q, q) arrays
        Covariance of each term's effects.
    residual_sd : float
    criterion : float
        Minus twice the restricted log-likelihood.
    """

    fixed: Floats
    fixed_se: Floats
    covariances: tuple[Floats, ...]
    residual_sd: float
    criterion: float


class _Solution(NamedTuple):
    criterion: float
    fixed: Floats
    schur: Floats
    residual_variance: float


def mixed_model(values: Floats, fixed: Floats, terms: tuple[RandomTerm, ...]) -> MixedFit:
    """Restricted maximum likelihood fit.

    Parameters
    ----------
    values : (n,) array
        Not NaN.
    fixed : (n, p) array
        Full rank.
    terms : tuple of RandomTerm

    Notes
    -----
    Effects of a term are ``sigma * Lambda u`` with u standard normal and Lambda lower triangular; for given Lambda fixed effects
    and sigma follow from the mixed-model equations, and the profiled criterion is minimised over Lambda.

    Source: [Henderson1984] (equations), [PinheiroBates2000] (profiling)
    Checked: tests/published/test_mixed_models.py (Penicillin, Machines, sleep study)
    """
    designs = [term.matrix() for term in terms]
    sizes = [term.q * (term.q + 1) // 2 for term in terms]
    start = np.concatenate([np.eye(term.q)[np.tril_indices(term.q)] for term in terms])

    def solution(theta: Floats) -> _Solution:
        factors = _factors(theta, terms, sizes)
        blocks = [
            design @ sparse.kron(sparse.eye(term.n_groups), factor, format="csc")
            for design, term, factor in zip(designs, terms, factors, strict=True)
        ]
        return _solved(values, fixed, sparse.hstack(blocks, format="csc"))

    def criterion(theta: Floats) -> float:
        return solution(theta).criterion

    best = minimize(criterion, start, method="Nelder-Mead", options={"xatol": 1e-7, "fatol": 1e-9, "maxiter": 4000})
    done = solution(best.x)
    covariances = tuple(done.residual_variance * (factor @ factor.T) for factor in _factors(best.x, terms, sizes))
    errors = np.sqrt(done.residual_variance * np.diag(np.linalg.inv(done.schur)))
    return MixedFit(done.fixed, errors, covariances, float(np.sqrt(done.residual_variance)), done.criterion)


def _factors(theta: Floats, terms: tuple[RandomTerm, ...], sizes: list[int]) -> list[Floats]:
    factors = []
    for term, part in zip(terms, np.split(theta, np.cumsum(sizes)[:-1]), strict=True):
        factor = np.zeros((term.q, term.q))
        factor[np.tril_indices(term.q)] = part
        factors.append(factor)
    return factors


def _solved(values: Floats, fixed: Floats, scaled: sparse.csc_matrix) -> _Solution:
    n, p = fixed.shape
    system = splu(sparse.csc_matrix(scaled.T @ scaled + sparse.eye(scaled.shape[1])))
    cross, response = scaled.T @ fixed, scaled.T @ values
    schur = fixed.T @ fixed - cross.T @ system.solve(cross)
    beta = np.linalg.solve(schur, fixed.T @ values - cross.T @ system.solve(response))
    effects = system.solve(response - cross @ beta)
    residual = values - fixed @ beta - scaled @ effects
    penalised = float(residual @ residual + effects @ effects)
    log_determinant = np.log(np.abs(system.U.diagonal())).sum() + np.linalg.slogdet(schur)[1]
    criterion = log_determinant + (n - p) * (1.0 + np.log(2.0 * np.pi * penalised / (n - p)))
    return _Solution(float(criterion), beta, schur, penalised / (n - p))
