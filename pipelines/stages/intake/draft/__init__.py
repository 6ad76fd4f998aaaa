"""Drafting a mapping for an unknown file from the trade's words, units and the ranges of values."""

from __future__ import annotations

from pipelines.stages.intake.draft.columns import DraftedColumn
from pipelines.stages.intake.draft.draft import DraftedMapping, Hints, draft_mapping, draft_mappings

__all__ = ["DraftedColumn", "DraftedMapping", "Hints", "draft_mapping", "draft_mappings"]
