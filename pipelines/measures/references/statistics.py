"""Trends, shifts, baselines, devices and flags."""

from __future__ import annotations

from pipelines.measures.references.entry import Reference

STATISTICS: tuple[Reference, ...] = ()
