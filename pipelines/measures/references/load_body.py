"""Load, body reports, problem forms and mobility."""

from __future__ import annotations

from pipelines.measures.references.entry import Reference

LOAD_BODY: tuple[Reference, ...] = ()
