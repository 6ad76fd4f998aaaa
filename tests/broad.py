"""Cases of which ``make test`` tries some and the gate all: ``make test MARKED="not benchmark"``.

A test is marked ``broad`` where a quicker one, or another case of the same, stands for what it looks at: it says that the same
holds of the other language, of the twelfth layout, with a server beside it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterable

    from _pytest.mark.structures import ParameterSet

BROAD = pytest.mark.broad


def some_of(cases: Iterable[object], every: int = 3) -> list[ParameterSet]:
    """Of the cases the first and each so-manyth after it, as parameters; the others are marked as broad."""
    found = []
    for at, case in enumerate(cases):
        values = case if isinstance(case, tuple) else (case,)
        found.append(pytest.param(*values, marks=() if at % every == 0 else BROAD))
    return found
