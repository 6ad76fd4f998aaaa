"""The list of faults that ``make faults`` puts in is current: each can be put in, and its test is there."""

from __future__ import annotations

import pytest

from tests.planted_faults import FAULTS, ROOT, Fault


@pytest.mark.parametrize("fault", FAULTS, ids=lambda fault: fault.says)
def test_a_fault_of_the_list_can_be_put_in(fault: Fault) -> None:
    assert (ROOT / fault.path).read_text(encoding="utf-8").count(fault.old) == 1, "follow the change in tests/planted_faults.py"
    assert (ROOT / fault.test.split()[0]).is_file()
