"""Two migrations of one number would leave every warehouse looking old: said here, where it is read before a change is taken."""

from __future__ import annotations

from warehouse.migrate import migrations


def test_numbers_are_unique_and_ascending() -> None:
    numbers = [script.number for script in migrations()]
    assert numbers == sorted(set(numbers))
