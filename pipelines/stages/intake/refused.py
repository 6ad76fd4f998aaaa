"""Which decisions are about the body of somebody who does not agree that anything of it is kept."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from pipelines.measures.flags.rules import RULES

_BODY_KINDS = tuple(sorted(rule.kind for rule in RULES.values() if rule.audience == "physio"))


@dataclass(frozen=True)
class Refused:
    """Who does not agree, and by which flags decisions are about them.

    Attributes
    ----------
    players, flags, body_flags : list of str
    """

    players: list[str]
    flags: list[str]
    body_flags: list[str]

    def about_body(self, rows: pl.DataFrame) -> pl.Series:
        """Which rows of a decisions file are theirs and about the body: a physio's, of a region, or of a flag about the body."""

        def cell(name: str) -> pl.Expr:
            return pl.col(name).str.strip_chars().fill_null("") if name in rows.columns else pl.lit("")

        theirs = cell("player_id").is_in(self.players) | cell("flag_id").is_in(self.flags)
        is_body = (cell("role") == "physio") | (cell("region") != "") | cell("flag_kind").is_in(_BODY_KINDS)
        return rows.select((theirs & (is_body | cell("flag_id").is_in(self.body_flags))).alias("own")).to_series()
