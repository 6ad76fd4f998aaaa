"""Multiples of the typical error: 2.77 and 2.33, common practice, from the normal quantiles [Hopkins2004]."""

from __future__ import annotations

import pytest

from pipelines.measures.baseline.chances import detectable_change


def test_multiples_of_the_typical_error() -> None:
    assert detectable_change(1.0) == pytest.approx(2.772, abs=0.0005)
    assert detectable_change(1.0, 0.90) == pytest.approx(2.326, abs=0.0005)
