"""Commands that hand things on: export marts, export page."""

from __future__ import annotations

from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from pipelines.cli.options import HERE, Quiet, Reader, WorkspaceOption, named_place
from pipelines.cli.screen import Screen
from schemas.errors import UsageError

export = typer.Typer(help="Tables for further analysis; one page to send.", rich_markup_mode=None, no_args_is_help=True)


class TableReader(StrEnum):
    """For whom tables are exported."""

    COACH = "coach"
    PHYSIO = "physio"
    DATA = "data"


def marts(
    folder: Annotated[Path, typer.Argument(parser=named_place, metavar="DIR", help="Folder for the files.", show_default=False)],
    reader: Annotated[
        TableReader,
        typer.Option("--for", help="Whose tables: the physio's hold reports about the body, those for data files and problems."),
    ] = TableReader.COACH,
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


_UNSEALED = "They are not encrypted: send them to nobody but those whom they are for."


def page(
    path: Annotated[
        str,
        typer.Argument(
            metavar="[PAGE|DIR]", help="The page as the site calls it: squad.html, players/p1.html; with --all the folder."
        ),
    ] = "",
    single: Annotated[
        Path | None, typer.Option("--single", parser=named_place, metavar="FILE", help="The one file to write.")
    ] = None,
    everything: Annotated[
        bool, typer.Option("--all", help="Every page of that reader, a file each, into the empty folder DIR.")
    ] = False,
    reader: Annotated[
        Reader, typer.Option("--for", "--audience", help="Whose page; only what this reader may see is on it.")
    ] = Reader.COACH,
    player: Annotated[str, typer.Option("--player", metavar="ID", help="The player, for pages about one player.")] = "",
    group: Annotated[
        str, typer.Option("--group", metavar="NAME", help="Only the players of this group stand on the pages.")
    ] = "",
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Write one page, or all of one reader, as files to send: no script, charts as pictures, styles inside."""
    from pipelines.stages.intake.disk import write_whole
    from pipelines.stages.page_export import page_to_send, pages_to_send
    from pipelines.workspace import find_workspace, require_beside
    from schemas.errors import WorkspaceError

    screen = Screen(quiet)
    if everything:
        _refuse_beside_all(path, single, player)
        n = pages_to_send(find_workspace(workspace), reader.value, Path(path), group)
        screen.result(path)
        screen.remark(f"{n} pages for the {reader.value}. {_UNSEALED}")
        return
    if not path or single is None:
        missing = "PAGE and --single FILE are" if not path and single is None else "PAGE is" if not path else "--single FILE is"
        raise UsageError(f"{missing} missing.", "Give PAGE --single FILE for one page, or --all DIR for every page of a reader.")
    require_beside(find_workspace(workspace), single)
    text = page_to_send(find_workspace(workspace), reader.value, path, player, group)
    try:
        write_whole(single, text.encode())
    except OSError as fault:
        raise WorkspaceError(f"{single} cannot be written: {fault.strerror}.", "Choose another file.") from fault
    screen.result(str(single))


def _refuse_beside_all(folder: str, single: Path | None, player: str) -> None:
    if not folder:
        raise UsageError("DIR is missing: the folder for the pages.", "For example: speedworth export page --all pages")
    if single is not None or player:
        more = "--single FILE" if single is not None else "--player ID"
        raise UsageError(f"--all and {more} do not go together.", "Leave one of them out; --group NAME goes with --all.")


def add_to(app: typer.Typer) -> None:
    """Register these commands."""
    export.command(epilog="Example: speedworth export marts analysis -w my-academy")(marts)
    export.command(epilog="Example: speedworth export page review/p1.html --for physio --player p1 --single p1.html")(page)
    app.add_typer(export, name="export")
