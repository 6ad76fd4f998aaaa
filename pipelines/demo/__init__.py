"""The invented academy: a seeded generator of files, physically consistent, with stories whose truth is known."""

from __future__ import annotations

from pipelines.demo.academy import academy_files, write_academy
from pipelines.demo.truth import DemoTruth

__all__ = ["DemoTruth", "academy_files", "write_academy"]
