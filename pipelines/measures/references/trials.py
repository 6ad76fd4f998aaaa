"""Technique trials."""

from __future__ import annotations

from pipelines.measures.references.entry import Reference

TRIALS: tuple[Reference, ...] = ()
