"""Names stand where a person looks for them."""

from __future__ import annotations

import polars as pl

from schemas.natural_order import natural, natural_key

IN_ORDER = [
    "Ägidius",
    "Ahorn",
    "Amsel",
    "amsel 2",
    "Amsel 10",
    "Group 2",
    "group 2b",
    "Group 10",
    "Straße",
    "Strasse 1",
    "Zaunkönig",
]


def test_numbers_go_by_their_size_and_accents_stand_beside_their_letters() -> None:
    turned = list(reversed(IN_ORDER))
    assert sorted(turned, key=natural_key) == IN_ORDER
    frame = pl.DataFrame({"alias": [None, *turned]})
    assert frame.sort(natural("alias"))["alias"].to_list() == [None, *IN_ORDER]


def test_names_that_differ_in_case_alone_have_an_order() -> None:
    assert sorted(["b", "B", "á", "a"], key=natural_key) == ["a", "á", "B", "b"]
