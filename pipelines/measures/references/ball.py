"""Ball flight, impact, air, rules limits, expected strokes and shot patterns."""

from __future__ import annotations

from pipelines.measures.references.entry import Reference

BALL: tuple[Reference, ...] = ()
