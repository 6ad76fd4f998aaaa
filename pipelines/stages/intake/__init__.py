"""From dropped files to rows in the warehouse: found, read, checked, loaded, and accounted for."""

from __future__ import annotations

from pipelines.stages.intake.draft import DraftedMapping, draft_mapping
from pipelines.stages.intake.inspect import Inspection, check_file
from pipelines.stages.intake.take import take_in

__all__ = ["DraftedMapping", "Inspection", "check_file", "draft_mapping", "take_in"]
