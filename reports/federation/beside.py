"""What is usual in the federation, beside an academy's own squad."""

from __future__ import annotations

from typing import TYPE_CHECKING

from markupsafe import Markup

from reports.federation.levels import norms_table
from reports.pages.parts import evidence, paragraph, section

if TYPE_CHECKING:
    from reports.pages.context import PageContext
    from warehouse.marts import Marts


def beside(marts: Marts, context: PageContext) -> Markup:
    """A section with the federation's norms, and whether the squad uses them; empty where there are none."""
    words, numbers = context.words, context.numbers
    norms = marts.rows("mart_federation_norm")
    whole = norms.filter(norms["sex"].is_null(), norms["age_band"].is_null(), norms["standard"].is_null())
    if whole.is_empty():
        return Markup("")
    row = whole.row(0, named=True)
    said = words(
        "usual_there.said",
        month=words.month(row["month_on"]),
        persons=words.count("federation.n_persons", row["n_persons"]),
        academies=words.count("federation.n_academies", row["n_academies"]),
        middle=numbers.with_unit("speed", row["speed_p50_mps"]),
        fast=numbers.with_unit("speed", row["speed_p90_mps"]),
    )
    used = [paragraph(_used(one, context)) for one in marts.rows("mart_speed_norm").iter_rows(named=True)]
    listing = evidence(
        words("usual_there.show"), norms_table(norms, context), paragraph(words("federation.norms.limits"), "quiet-note")
    )
    return section(words("usual_there.title"), said, *used, listing, anchor="usual-there")


def _used(row: dict[str, object], context: PageContext) -> str:
    words = context.words
    if row["prior_on"] is None:
        return words("usual_there.own" if not row["is_prior"] else "usual_there.not_yet")
    month = words.month(row["prior_on"])  # type: ignore[arg-type] # a day
    return words("usual_there.prior", worthwhile=words.number(float(str(row["worthwhile"])), 1), month=month)
