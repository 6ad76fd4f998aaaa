"""Every kind of page of the three sites, as patterns of paths."""

from __future__ import annotations

KINDS = (
    "coach/index.html",
    "coach/squad.html",
    "coach/players/*.html",
    "coach/compare.html",
    "coach/season/*.html",
    "coach/tradeoff.html",
    "coach/load.html",
    "coach/trials.html",
    "coach/trials/*.html",
    "coach/programme.html",
    "coach/data.html",
    "data/index.html",
    "data/methods.html",
    "coach/methods.html",
    "physio/index.html",
    "physio/squad.html",
    "physio/players/*.html",
    "physio/load.html",
    "physio/trials.html",
    "physio/trials/*.html",
    "physio/review.html",
    "physio/review/*.html",
    "physio/body-map.html",
    "physio/squad-health.html",
    "physio/methods.html",
    "players/*/index.html",
    "players/*/season.html",
    "players/*/trials/*.html",
    "players/methods.html",
)
"""Every kind of page; a page that fits none of them fails the first test."""

BY_PLAYER = tuple(kind for kind in KINDS if "*" in kind)
"""Kinds of which there is a page for each player or trial."""
