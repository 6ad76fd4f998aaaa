"""The command federation report."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from pipelines.cli.options import HERE, Quiet, named_place, today_at
from pipelines.cli.screen import Screen

FederationOption = Annotated[
    Path,
    typer.Option(
        "--workspace",
        "-w",
        parser=named_place,
        metavar="DIR",
        help="Folder of the federation.",
        show_default="the current folder",
    ),
]

_SET = "as federation.toml says"


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
    language: Annotated[Language | None, typer.Option("--language", help="Language of the pages.", show_default=_SET)] = None,
    speed: Annotated[SpeedUnit | None, typer.Option("--speed", help="Unit of speeds.", show_default=_SET)] = None,
    length: Annotated[LengthUnit | None, typer.Option("--length", help="Unit of scatter.", show_default=_SET)] = None,
    folder: FederationOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Read what the academies shared, write the federation's pages, and give its norms back.

    A worker does it each day where [report] of federation.toml names a time and its machine.
    """
    from dataclasses import replace

    from pipelines.federation import find_federation
    from pipelines.stages.federation_report import report_of
    from pipelines.workspace import kept_to_owner

    found = find_federation(folder)
    federation, screen = found.federation(), Screen(quiet)
    how = replace(
        federation.report,
        language=language.value if language else federation.report.language,
        speed=speed.value if speed else federation.report.speed,
        length=length.value if length else federation.report.length,
    )
    with kept_to_owner():
        made = report_of(federation, found.root, how, today_at(federation.time_zone))
    screen.remark(f"Files: {made.n_files} read, {len(made.refused)} left out. Norms: {made.n_norms} groups of persons.")
    if not made.n_files and not made.refused:
        screen.remark(
            f"Nothing is shared in {federation.roll_up}. See that it is the folder in [share] of the academies, and that they "
            "agree there to something; what they share of a month comes a week after its end."
        )
    for path, why in made.refused:
        screen.remark(f"Left out: {path}: {why}")
    screen.remark(f"Pages: {made.site.n_written} written, {made.site.n_unchanged} unchanged.")
    screen.result(made.site.start_page)
