"""Matrix products some rows at a time: the library's own product, and no second thread that waits."""

from __future__ import annotations

import os
import time

import numpy as np
import pytest

from pipelines.measures.products import cross_product, product


@pytest.mark.parametrize(("n", "k"), [(0, 3), (1, 1), (36, 14), (510, 42), (3, 900)])
def test_products_are_those_of_the_library(n, k):
    # numpy's matrix product of the same numbers at once
    columns = np.random.default_rng(4).normal(size=(n, k))
    assert cross_product(columns) == pytest.approx(columns.T @ columns, abs=1e-11)
    assert product(columns[None], columns.T[None]) == pytest.approx(columns[None] @ columns.T[None], abs=1e-11)


def _share_of_others(columns):
    """Seconds of processor of all threads of this process over those of this one, the least disturbed of five times."""
    shares = []
    for _ in range(5):
        own, everybody = time.thread_time(), time.process_time()
        for _ in range(100):
            cross_product(columns)
        shares.append((time.process_time() - everybody) / (time.thread_time() - own))
    return min(shares)


@pytest.mark.skipif((os.cpu_count() or 1) < 2, reason="one core has no second thread to wait for")
def test_a_long_trial_is_fitted_by_one_thread():
    # six sessions of 85 shots in 42 columns: at once, a second thread of the library took .3 to 1.0 of this one's time, waiting
    assert _share_of_others(np.random.default_rng(5).normal(size=(510, 42))) < 1.1
