"""Commands about one player: since, player export, player erase."""

from __future__ import annotations

import sys
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from pipelines.cli.options import HERE, Quiet, WorkspaceOption, named_place, now, pasted, today_at
from pipelines.cli.screen import Screen
from schemas.errors import UsageError

player = typer.Typer(
    help="Everything about one player: to take along, or to forget.", rich_markup_mode=None, no_args_is_help=True
)

PlayerArgument = Annotated[str, typer.Argument(metavar="ID", help="The player's id.", show_default=False)]


class Change(StrEnum):
    """What is otherwise since a day."""

    PAUSE = "pause"
    TECHNIQUE = "technique"
    EQUIPMENT = "equipment"
    TRAINING = "training"
    OTHER = "other"


def since(
    player_id: PlayerArgument,
    changed_on: Annotated[
        datetime,
        typer.Argument(metavar="DATE", formats=["%Y-%m-%d"], help="First day that is otherwise.", show_default=False),
    ],
    change: Annotated[Change, typer.Option("--change", help="What is otherwise.")] = Change.OTHER,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Name a day since which a player's return to normal is followed, on the player's page.

    Breaks of 21 days and more between sessions are found by themselves.
    """
    from pipelines.stages.name_change import name_change
    from pipelines.workspace import find_workspace

    found = find_workspace(workspace)
    path = name_change(found, player_id, changed_on.date(), change.value, today_at(found.academy().time_zone))
    screen = Screen(quiet)
    screen.result(str(path))
    screen.remark(f"Recorded. It counts with the next run: speedworth run -w {pasted(workspace)}")


def export(
    player_id: PlayerArgument,
    folder: Annotated[
        Path | None, typer.Option("--to", parser=named_place, metavar="DIR", help="New folder.", show_default="ID-export")
    ] = None,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Write everything about a player: a page to read, tables as CSV and JSON, and what the columns mean.

    Rows, what was derived from them, flags and decisions, rows that were refused, the files that they came in, the lines as they
    were dropped, and what the desk keeps. Open index.html.
    """
    from pipelines.stages.player_export import export_player
    from pipelines.workspace import find_workspace

    exported = export_player(find_workspace(workspace), player_id, folder or Path(f"{player_id}-export"), now())
    screen = Screen(quiet)
    screen.result(str(exported.folder))
    screen.remark(f"{exported.n_rows} rows in {exported.n_tables} tables; columns are explained in dictionary.csv.")
    if exported.n_mentions:
        screen.remark(f"{exported.n_mentions} places name the player and are about others too: look at them (mention.csv).")


def erase(
    player_id: PlayerArgument,
    yes: Annotated[bool, typer.Option("--yes", help="Do not ask.")] = False,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Forget a player: rows, what was derived, pages, and lines in kept originals.

    A kept original loses the player's lines; a held file of the player is removed; names in other people's notes, in lists,
    mappings and names of files are taken out. Old files that are dropped again, and backups that are restored in this workspace,
    stay without the player. What cannot be reached is printed.
    """
    from pipelines.workspace import find_workspace

    found = find_workspace(workspace)
    if not yes:
        _ask(player_id)
    screen = Screen(quiet)
    with screen.steps() as tell:
        tell("Starting")
        from pipelines.runs import Night, erase_and_rerun

        erasure = erase_and_rerun(Night(found, now(), tell), player_id)
    screen.result(f"{erasure.n_rows} rows and lines of {erasure.n_files} files are gone.")
    for path in erasure.naming_still:
        screen.result(f"Still names the player: {path} (correct or delete it by hand)")
    if not erasure.scheduler_reached:
        screen.result("Still may name the player: .prefect/prefect.db (stop the timetable and delete it; it is made anew)")
    for path in erasure.backups:
        screen.result(f"Still holds the player: {path} (make a new backup, then delete it)")
    for folder in erasure.published:
        screen.result(f"Still holds the player: {folder} (publish again)")
    for place in _BEYOND:
        screen.result(f"Not reached, see to it by hand: {place}")


_BEYOND = (
    "copies of backups and of the workspace elsewhere; a copy restored in another folder needs .forgotten.json beside it",
    "pages, tables and sheets that were printed, sent or exported",
    "devices, and programs from which files were exported",
    "the store of a Prefect server of your own: artifacts of the flows name files",
    "free space of this disk, and its own snapshots",
)
"""What a program cannot reach; the person who answers for the data does."""


def _ask(player_id: str) -> None:
    try:
        typed = typer.prompt(f"This cannot be undone. Type {player_id} to go on", err=True)
    except typer.Abort as nobody:
        print(file=sys.stderr)
        raise UsageError("Nobody answered.", "Add --yes to erase without being asked.") from nobody
    if typed != player_id:
        raise UsageError("Nothing was erased: another id was typed.", f"Type {player_id}, or add --yes.")


def add_to(app: typer.Typer) -> None:
    """Register these commands."""
    app.command(epilog="Example: speedworth since p07 2026-03-02 --change technique -w my-academy")(since)
    player.command(epilog="Example: speedworth player export p07 -w my-academy")(export)
    player.command(epilog="Example: speedworth player erase p07 -w my-academy")(erase)
    app.add_typer(player, name="player")
