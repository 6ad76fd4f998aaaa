"""Commands about many academies on many machines: federation new."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pipelines.cli.options import Quiet
from pipelines.cli.screen import Screen


def new(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder to make.", show_default=False)],
    quiet: Quiet = False,
) -> None:
    """Make a federation's folder: settings that list its academies, and the key by which workers are known."""
    from pipelines.federation import create_federation
    from pipelines.workspace import local_time_zone

    made, screen = create_federation(folder, local_time_zone()), Screen(quiet)
    screen.result(str(made.root))
    screen.remark(f"Set name, time zone and academies in {made.settings}.")
    screen.remark(f"Each machine that works for it wants this folder's {made.settings.name} and {made.key_file.name}.")


def add_to(app: typer.Typer) -> None:
    """Register these commands."""
    group = typer.Typer(help="Many academies on many machines.", no_args_is_help=True, rich_markup_mode=None)
    group.command("new", epilog="Example: speedworth federation new my-federation")(new)
    app.add_typer(group, name="federation")
