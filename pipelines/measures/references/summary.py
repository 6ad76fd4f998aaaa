"""Robust summaries of one session."""

from __future__ import annotations

from pipelines.measures.references.entry import Reference

SUMMARY: tuple[Reference, ...] = (
    Reference(
        key="IglewiczHoaglin1993",
        authors="Iglewicz, B.; Hoaglin, D. C.",
        year=1993,
        title="How to detect and handle outliers",
        journal="ASQC Basic References in Quality Control 16, Quality Press",
        doi="",
        known="from memory",
        used_for="Modified z-score 0.6745 (x - median) / MAD with cut 3.5, and the mean absolute deviation where MAD is 0.",
    ),
    Reference(
        key="Mahalanobis1936",
        authors="Mahalanobis, P. C.",
        year=1936,
        title="On the generalised distance in statistics",
        journal="Proceedings of the National Institute of Sciences of India 2, 49-55",
        doi="",
        known="from memory",
        used_for="Squared distance in units of spread; of normal pairs it follows chi-square with two degrees of freedom.",
    ),
)
