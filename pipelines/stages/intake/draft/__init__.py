"""Drafting a mapping for an unknown file from the trade's words, units and the ranges of values."""

from __future__ import annotations

from pipelines.stages.intake.draft.columns import SIDED
from pipelines.stages.intake.draft.draft import DraftedMapping, draft_mapping, draft_mappings
from pipelines.stages.intake.draft.drafted import DraftedColumn
from pipelines.stages.intake.draft.hints import TOGETHER, Hints
from pipelines.stages.intake.draft.roles import possible_roles

__all__ = [
    "SIDED",
    "TOGETHER",
    "DraftedColumn",
    "DraftedMapping",
    "Hints",
    "draft_mapping",
    "draft_mappings",
    "possible_roles",
]
