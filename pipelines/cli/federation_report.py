"""The command federation report."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from pipelines.cli.options import HERE, Quiet, today_at
from pipelines.cli.screen import Screen

FederationOption = Annotated[
    Path, typer.Option("--workspace", "-w", metavar="DIR", help="Folder of the federation.", show_default="the current folder")
]


class Language(StrEnum):
    """Language of the pages."""

    EN = "en"
    DE = "de"


class SpeedUnit(StrEnum):
    """Unit of speeds on the pages."""

    MPH = "mph"
    MPS = "m/s"
    KMH = "km/h"


class LengthUnit(StrEnum):
    """Unit of scatter on the pages."""

    YARD = "yd"
    METRE = "m"


def report(
    language: Annotated[Language, typer.Option("--language", help="Language of the pages.")] = Language.EN,
    speed: Annotated[SpeedUnit, typer.Option("--speed", help="Unit of speeds.")] = SpeedUnit.MPH,
    length: Annotated[LengthUnit, typer.Option("--length", help="Unit of scatter.")] = LengthUnit.YARD,
    folder: FederationOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Read what the academies shared, write the federation's pages, and give its norms back."""
    from pipelines.federation import find_federation
    from pipelines.stages.federation_report import roll_up
    from pipelines.stages.shared_folder import open_shared
    from pipelines.workspace import kept_to_owner
    from schemas.academy import Academy, Units
    from schemas.errors import SettingsError

    found = find_federation(folder)
    federation, screen = found.federation(), Screen(quiet)
    if not federation.roll_up:
        raise SettingsError(
            f"{found.settings}: [federation] roll_up is empty.", "Write the folder or URL that the academies share to."
        )
    look = Academy(federation.name, federation.time_zone, language.value, Units(speed.value, length.value))
    with kept_to_owner():
        made = roll_up(
            open_shared(federation.roll_up, found.root),
            look,
            found.root / "site",
            today_at(federation.time_zone),
            [academy.name for academy in federation.academies],
        )
    screen.remark(f"Files: {made.n_files} read, {len(made.refused)} left out. Norms: {made.n_norms} groups of persons.")
    for path, why in made.refused:
        screen.remark(f"Left out: {path}: {why}")
    screen.remark(f"Pages: {made.site.n_written} written, {made.site.n_unchanged} unchanged.")
    screen.result(made.site.start_page)
