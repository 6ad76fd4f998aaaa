"""Sentences of a page that a test adds."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

    from reports.words import Words


def gym_sentence(row: Mapping[str, Any], words: Words) -> str:
    """How often somebody was in the gym in a week."""
    return words.count("gym.said", row["n_gym"], alias=row["alias"], day=words.day(row["week_starting"]))
