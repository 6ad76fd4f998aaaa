"""The command licences: what the program runs on."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipelines.cli.options import Quiet, named_place, now
from pipelines.cli.screen import Screen


def licences(
    cyclonedx: Annotated[
        Path | None,
        typer.Option(
            "--cyclonedx", parser=named_place, metavar="FILE", help="Write a bill of materials instead: CycloneDX 1.6, JSON."
        ),
    ] = None,
    quiet: Quiet = False,
) -> None:
    """List the packages that this installation runs on, with version and licence."""
    from pipelines.stages.licences import installed_packages, write_bill

    screen, packages = Screen(quiet), installed_packages()
    if cyclonedx is not None:
        write_bill(cyclonedx, now())
        screen.result(str(cyclonedx))
    else:
        screen.table(("package", "version", "licence"), [(one.name, one.version, one.licence) for one in packages])
    screen.remark(f"{len(packages) - 1} packages beside speedworth itself.")


def add_to(app: typer.Typer) -> None:
    """Register this command."""
    app.command(epilog="Example: speedworth licences --cyclonedx bill.json")(licences)
