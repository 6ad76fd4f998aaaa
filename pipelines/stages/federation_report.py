"""The roll-up of a federation: what academies shared, read, brought together, shown, and given back as norms."""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from pipelines.measures.federation.blocks import blocks_across
from pipelines.measures.federation.month import month_end
from pipelines.measures.federation.norms import apart, federation_norms, newest, usual, with_logs
from pipelines.measures.references import BIBLIOGRAPHY
from pipelines.measures.trend.points import interval_factor
from pipelines.stages.federation_read import Gathered, gathered, silent
from pipelines.stages.shared_folder import open_shared
from reports.federation.facts import FederationFacts
from reports.federation.site import build_federation_site
from schemas.academy import Academy, Units
from schemas.errors import SettingsError
from schemas.shared import FEDERATION_NORM, NORMS_PATH, SHARED_QUALITY
from schemas.shared_contract import broken_rule
from schemas.spreadsheet import csv_of

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date
    from pathlib import Path

    from pipelines.stages.shared_folder import SharedFolder
    from schemas.federation import Federation, FederationReport
    from schemas.results import SiteOutcome

_USUAL = {
    "sex": pl.String(), "age_band": pl.String(), "standard": pl.String(), "quantity": pl.String(), "mean": pl.Float64(),
    "low": pl.Float64(), "high": pl.Float64(), "n_persons": pl.Int64(), "n_academies": pl.Int64(),
}  # fmt: skip
_QUANTITIES = {
    "speed": ("speed_x", "speed_spread_pct"),
    "growth": ("growth_year_pct", "growth_year_spread_pct"),
    "scatter": ("scatter_x", "scatter_spread_pct"),
}


@dataclass(frozen=True)
class RollUp:
    """What a roll-up made: pages, files read and left out, and how many groups of persons have norms."""

    site: SiteOutcome
    n_files: int
    refused: tuple[tuple[str, str], ...]
    n_norms: int


def report_of(federation: Federation, root: Path, how: FederationReport, today: date) -> RollUp:
    """The roll-up of a federation as its settings say, into ``site`` of its folder.

    Parameters
    ----------
    federation : Federation
    root : Path
        The federation's folder.
    how : FederationReport
        Language and units.
    today : date
        In the federation's time zone.

    Raises
    ------
    SettingsError
        When the federation names no folder that its academies share to.
    WorkspaceError
        When that folder cannot be read or written.
    RenderError
        When the pages cannot be written.
    """
    if not federation.roll_up:
        raise SettingsError(
            "federation.toml: [federation] roll_up is empty.", "Write the folder or URL that the academies share to."
        )
    look = Academy(federation.name, federation.time_zone, how.language, Units(how.speed, how.length))
    names = [academy.name for academy in federation.academies]
    return roll_up(open_shared(federation.roll_up, root), look, root / "site", today, names)


def roll_up(folder: SharedFolder, look: Academy, site_dir: Path, today: date, academies: Iterable[str] = ()) -> RollUp:
    """Read everything that was shared, write the pages, and the norms into the shared folder.

    Parameters
    ----------
    folder : SharedFolder
    look : Academy
        Name of the federation, language and units of the pages.
    site_dir : Path
    today : date
        Printed where nothing was shared yet.
    academies : iterable of str
        Names of those who belong to the federation.

    Raises
    ------
    WorkspaceError
        When the folder cannot be read or written.
    RenderError
        When the pages cannot be written.
    """
    told = gathered(folder)
    norms = federation_norms(told.rows["level"])
    facts = _facts(told, norms, academies)
    as_of = month_end(facts.month_on) if facts.month_on else today
    _write_norms(folder, norms)
    site = build_federation_site(facts, look, site_dir, as_of=as_of, sources=tuple(BIBLIOGRAPHY.values()))
    return RollUp(site, told.n_files, facts.refused, facts.norms.height)


def _facts(told: Gathered, norms: pl.DataFrame, academies: Iterable[str]) -> FederationFacts:
    levels, quality = told.rows["level"], told.rows["quality"]
    months = [day for rows in told.rows.values() for day in rows["month_on"].to_list()]
    month_on = max(months) if months else None
    of_levels = max(levels["month_on"]) if levels.height else None
    across = blocks_across(told.rows["speed_block"])
    half = interval_factor() * pl.col("error_pct")
    blocks = across.academies.with_columns(
        (pl.col("effect_pct") - half).alias("low"), (pl.col("effect_pct") + half).alias("high")
    )
    return FederationFacts(
        month_on,
        _usual(newest(levels, of_levels)) if of_levels else pl.DataFrame(schema=_USUAL),
        norms.filter(pl.col("month_on") == of_levels) if of_levels else norms,
        blocks,
        across.pooled,
        _by_academy(told, quality),
        silent(academies, told.rows),
        tuple((one.path, one.why) for one in told.refused),
    )


def _usual(rows: pl.DataFrame) -> pl.DataFrame:
    """What is usual of every grouping; speed and scatter in m/s and m again."""
    found: list[dict[str, Any]] = []
    for cell, part in apart(with_logs(rows)):
        for quantity, (mean, spread) in _QUANTITIES.items():
            one = usual(part, mean, spread)
            if one is None:
                continue
            shown = [one.mean, one.low, one.high]
            if quantity != "growth":
                shown = [float(np.exp(value / 100.0)) for value in shown]
            estimate = dict(zip(("mean", "low", "high"), shown, strict=True))
            found.append(cell | estimate | {"quantity": quantity, "n_persons": one.n_persons, "n_academies": one.n_academies})
    return pl.DataFrame(found, schema=_USUAL, orient="row")


def _by_academy(told: Gathered, quality: pl.DataFrame) -> pl.DataFrame:
    """One row an academy: newest month of anything, how many months, persons in cohorts now, and how complete its data were."""
    months = pl.concat([rows.select("academy", "month_on") for rows in told.rows.values()])
    own = months.group_by("academy").agg(pl.col("month_on").max(), pl.col("month_on").n_unique().cast(pl.Int64).alias("n_months"))
    levels = told.rows["level"]
    persons = (
        newest(levels, max(levels["month_on"])).group_by("academy").agg(pl.col("n_persons").sum())
        if levels.height
        else pl.DataFrame(schema={"academy": pl.String(), "n_persons": pl.Int64()})
    )
    last = quality.sort("academy", "month_on").group_by("academy", maintain_order=True).last().drop("month_on")
    shares = [name for name in SHARED_QUALITY.names if name not in {"academy", "month_on"}]
    joined = own.join(persons, on="academy", how="left").join(last, on="academy", how="left")
    return joined.select("academy", "month_on", "n_months", "n_persons", *shares).sort("academy")


def _write_norms(folder: SharedFolder, norms: pl.DataFrame) -> None:
    if wrong := broken_rule(FEDERATION_NORM, norms):
        raise ValueError(f"norms that break their own contract: {wrong}")
    out = io.BytesIO()
    norms.write_parquet(out)
    folder.write(NORMS_PATH, out.getvalue())
    folder.write(NORMS_PATH.replace(".parquet", ".csv"), csv_of(norms).encode())
