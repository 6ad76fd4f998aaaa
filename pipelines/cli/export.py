"""Commands that hand data on: export marts."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from pipelines.cli.options import HERE, Quiet, WorkspaceOption
from pipelines.cli.screen import Screen

export = typer.Typer(help="Tables for further analysis.", rich_markup_mode=None, no_args_is_help=True)


class Reader(StrEnum):
    """For whom tables are exported."""

    COACH = "coach"
    PHYSIO = "physio"


def marts(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder for the files.", show_default=False)],
    reader: Annotated[
        Reader, typer.Option("--for", help="Whose tables: the physio's hold reports about the body.")
    ] = Reader.COACH,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Write every mart as Parquet and CSV, with what the columns mean."""
    from pipelines.stages.mart_export import export_marts
    from pipelines.workspace import find_workspace

    exported = export_marts(find_workspace(workspace), folder, (reader.value,))
    screen = Screen(quiet)
    screen.result(str(exported.folder))
    screen.remark(f"{exported.n_marts} marts, {exported.n_rows} rows; columns are explained in dictionary.csv.")


def add_to(app: typer.Typer) -> None:
    """Register these commands."""
    export.command(epilog="Example: speedworth export marts analysis -w my-academy")(marts)
    app.add_typer(export, name="export")
