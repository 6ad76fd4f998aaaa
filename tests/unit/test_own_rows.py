"""A command refuses at once what the intake would refuse at night."""

from __future__ import annotations

from datetime import date

import pytest

from pipelines.stages.intake.own_rows import require_loadable
from schemas.errors import UsageError

ROW = {"player_id": "p1", "changed_on": date(2026, 3, 14), "kind": "pause"}


def test_a_row_within_its_contract_passes_and_another_is_told_in_one_line() -> None:
    require_loadable("changes", ROW)
    require_loadable("changes", ROW | {"kind": " pause "})
    with pytest.raises(UsageError, match="changed_on cannot be '1890-01-01': allowed is a day such as") as fault:
        require_loadable("changes", ROW | {"changed_on": date(1890, 1, 1)})
    assert "\n" not in str(fault.value)
    with pytest.raises(UsageError, match="kind cannot be ''"):
        require_loadable("changes", ROW | {"kind": None})
