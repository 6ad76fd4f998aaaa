"""The one bibliography. Docstrings cite keys as ``Source: [Key]``; the methods page prints every entry with how it is known."""

from __future__ import annotations

from pipelines.measures.references.ball import BALL
from pipelines.measures.references.entry import Reference
from pipelines.measures.references.federation import FEDERATION
from pipelines.measures.references.load_body import LOAD_BODY
from pipelines.measures.references.statistics import STATISTICS
from pipelines.measures.references.summary import SUMMARY
from pipelines.measures.references.trials import TRIALS

BIBLIOGRAPHY: dict[str, Reference] = {
    entry.key: entry for entry in (*BALL, *STATISTICS, *SUMMARY, *LOAD_BODY, *TRIALS, *FEDERATION)
}

__all__ = ["BIBLIOGRAPHY", "Reference"]
