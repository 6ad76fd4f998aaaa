"""Commands that let others read: publish, links renew."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipelines.cli.options import HERE, Quiet, Reader, WorkspaceOption, named_place, now
from pipelines.cli.screen import Screen
from schemas.errors import UsageError

if TYPE_CHECKING:
    from warehouse.marts import Audience

links = typer.Typer(help="The links of the players' own pages.", rich_markup_mode=None, no_args_is_help=True)


def publish(
    folder: Annotated[
        Path, typer.Argument(parser=named_place, metavar="DIR", help="Folder that others read.", show_default=False)
    ],
    audience: Annotated[Reader | None, typer.Option("--audience", help="Whose pages; DIR holds these and nothing else.")] = None,
    everybody: Annotated[bool, typer.Option("--all", help="Everybody's: DIR/coach, DIR/physio, DIR/data, DIR/players.")] = False,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Copy one audience's pages, as the last night left them, to a folder of its own.

    The folder is exchanged whole: pages that are gone are gone there. One that holds anything else is refused. A folder that is
    there keeps its mode and group, and so lets in whom it let in; a new one is for its owner only. A player's page is opened by
    whoever knows its link; before the other folders put a password or a closed network.
    """
    from pipelines.runs import Night, publish_rooms
    from pipelines.stages.publish import all_rooms
    from pipelines.workspace import find_workspace

    if (audience is None) != everybody:
        raise UsageError("Say whose pages: --audience coach, physio, data or player, or --all.", "One of the two.")
    rooms: dict[Audience, Path] = all_rooms(folder) if audience is None else {audience.value: folder}
    screen = Screen(quiet)
    for made in publish_rooms(Night(find_workspace(workspace), now()), rooms):
        screen.result(str(made.folder))
        screen.remark(f"{made.audience}: {made.n_files} files, {made.n_new} new or changed, {made.n_gone} gone.")


def renew(
    player: Annotated[str, typer.Argument(metavar="[PLAYER]", help="The player's id.", show_default=False)] = "",
    everybody: Annotated[bool, typer.Option("--all", help="Every player's link.")] = False,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Give a player's own page a new link, because the old one was seen; what lay under the old one goes.

    Links to the desk are others: see `speedworth key link`.
    """
    from pipelines.cli.academy import show_night
    from pipelines.runs import Night, renew_and_rerun
    from pipelines.workspace import find_workspace

    if bool(player) == everybody:
        raise UsageError("Name one player, or give --all.", "See `speedworth links renew --help`.")
    found, screen = find_workspace(workspace), Screen(quiet)
    with screen.steps() as tell:
        outcome = renew_and_rerun(Night(found, now(), tell), player)
    show_night(screen, outcome)


def add_to(app: typer.Typer) -> None:
    """Register these commands."""
    app.command(epilog="Example: speedworth publish /srv/coach --audience coach -w my-academy")(publish)
    links.command(epilog="Example: speedworth links renew p07 -w my-academy")(renew)
    app.add_typer(links, name="links")
