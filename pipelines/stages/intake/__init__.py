"""From dropped files to rows in the warehouse: found, read, checked, loaded, and accounted for."""

from __future__ import annotations

from pipelines.stages.intake.inspect import Inspection, check_file
from pipelines.stages.intake.take import take_in

__all__ = ["Inspection", "check_file", "take_in"]
