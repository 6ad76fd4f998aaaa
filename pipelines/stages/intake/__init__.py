"""From dropped files to rows in the warehouse: found, read, checked, loaded, and accounted for."""

from __future__ import annotations

from pipelines.stages.intake.again import NOTHING_ASKED, AskedAgain, find_delivery, held_ids
from pipelines.stages.intake.draft import DraftedMapping, Hints, draft_mappings
from pipelines.stages.intake.handed_mappings import HandedMapping, handed_text, is_handed_mapping
from pipelines.stages.intake.inspect import Inspection, ReadThrough, check_file, read_through, rows_of_file
from pipelines.stages.intake.reading import Readings
from pipelines.stages.intake.take import take_in

__all__ = [
    "NOTHING_ASKED",
    "AskedAgain",
    "DraftedMapping",
    "HandedMapping",
    "Hints",
    "Inspection",
    "ReadThrough",
    "Readings",
    "check_file",
    "draft_mappings",
    "find_delivery",
    "handed_text",
    "held_ids",
    "is_handed_mapping",
    "read_through",
    "rows_of_file",
    "take_in",
]
