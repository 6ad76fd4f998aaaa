"""Sentences about a federation: what is usual, what speed blocks brought, how far academies differ."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    from reports.federation.facts import Together
    from reports.numbers import Numbers
    from reports.words import Words

QUANTITY = {"speed": "speed", "growth": "percent", "scatter": "spread"}
"""How each quantity of a federation is shown."""


def whom(cell: Mapping[str, Any], words: Words) -> str:
    """Whom a row is about: sex, age and standard in words."""
    parts = [words(f"federation.{name}.{cell[name]}") for name in ("sex", "age_band", "standard") if cell[name] is not None]
    return ", ".join(parts) if parts else words("federation.everybody")


def usual_sentence(row: Mapping[str, Any], month_on: date, numbers: Numbers) -> str:
    """The mean of a quantity with interval, persons and academies."""
    words, name = numbers.words, QUANTITY[row["quantity"]]
    return words(
        f"federation.said.{row['quantity']}",
        value=numbers.with_unit(name, row["mean"], signed=name == "percent"),
        interval=numbers.interval(name, row["low"], row["high"], signed=name == "percent"),
        persons=words.count("federation.n_persons", row["n_persons"]),
        academies=words.count("federation.n_academies", row["n_academies"]),
        **({"month": words.month(month_on)} if row["quantity"] == "speed" else {}),
    )


def together_sentence(pooled: Together, numbers: Numbers) -> str:
    """What speed blocks brought across academies, and whether that is clear."""
    words = numbers.words
    called = "up" if pooled.low > 0 else "down" if pooled.high < 0 else "open"
    return words(
        f"federation.blocks.{called}",
        value=numbers.with_unit("percent", pooled.mean, signed=True),
        interval=numbers.interval("percent", pooled.low, pooled.high, signed=True),
        n=words.number(pooled.n, 0),
    )


def differ_sentences(pooled: Together, numbers: Numbers) -> tuple[str, str]:
    """How far academies differ beyond chance, and where a further one is expected."""
    words = numbers.words
    differ = words(
        "federation.blocks.differ" if pooled.between_high > 0.0 else "federation.blocks.closer",
        sd=words.number(pooled.between_sd, 1),
        low=words.number(pooled.between_low, 1),
        high=words.number(pooled.between_high, 1),
        variance=words.number(pooled.between_sd**2, 2),
        share=numbers.with_unit("share", pooled.heterogeneity),
        interval=numbers.interval("share", pooled.heterogeneity_low, pooled.heterogeneity_high),
    )
    if pooled.next_low is None or pooled.next_high is None:
        return differ, words("federation.blocks.no_next")
    return differ, words(
        "federation.blocks.next", interval=numbers.interval("percent", pooled.next_low, pooled.next_high, signed=True)
    )
