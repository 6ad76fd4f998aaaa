"""Every view, mart and audit has an example beside the tests."""

from __future__ import annotations

from tests.warehouse.sql_examples import example, example_names, queries


def test_every_view_mart_and_audit_has_an_example() -> None:
    missing = sorted(set(queries()) - example_names())
    assert missing == [], "write tests/warehouse/examples/NAME.toml; how stands in DEVELOPERS.md under 'An example of a view'"


def test_every_example_belongs_to_a_view_a_mart_or_an_audit() -> None:
    assert sorted(example_names() - set(queries())) == []


def test_every_equivalent_change_has_a_reason() -> None:
    reasons = [because for name in sorted(example_names()) for because in example(name).equivalents.values()]
    assert [because for because in reasons if len(because) < 20] == []
