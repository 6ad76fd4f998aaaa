"""Commands about technique trials: trial plan, trial show."""

from __future__ import annotations

from typing import Annotated

import typer

from pipelines.cli.options import HERE, Quiet, WorkspaceOption, today_at
from pipelines.cli.screen import Screen

trial = typer.Typer(help="Technique trials: plan one, or show its result.", rich_markup_mode=None, no_args_is_help=True)


def plan(
    player_id: Annotated[str, typer.Argument(metavar="PLAYER_ID", help="The player's id.", show_default=False)],
    question: Annotated[str, typer.Option(help="The one thing that changes.", show_default=False)],
    arms: Annotated[str, typer.Option(help="Arms by amount of the change, with commas; normal among them.")] = "normal, changed",
    normal_arm: Annotated[str, typer.Option("--normal", help="The arm that is the player's normal.")] = "normal",
    shots: Annotated[int | None, typer.Option(min=5, max=400, help="Shots of each arm.", show_default="what can show it")] = None,
    days: Annotated[int, typer.Option(min=1, max=14, help="Days.")] = 2,
    club: Annotated[str, typer.Option(help="The club.")] = "driver",
    trial_id: Annotated[str, typer.Option("--id", help="Id of the trial.", show_default="player and day")] = "",
    seed: Annotated[int | None, typer.Option(min=0, help="Gives the same order again.", show_default="from the id")] = None,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Make a balanced random shot sheet to print, and say what it can show."""
    from pipelines.stages.trial_plan import TrialWish, plan_trial, write_sheet
    from pipelines.workspace import find_workspace
    from warehouse.connection import open_warehouse

    found = find_workspace(workspace)
    academy = found.academy()
    today = today_at(academy.time_zone)
    named = tuple(arm.strip() for arm in arms.split(",") if arm.strip())
    wish = TrialWish(player_id, question, named, normal_arm, shots, days, club, trial_id, seed)
    with open_warehouse(found.warehouse, read_only=True) as con:
        sheet = plan_trial(con, academy, wish, today)
    files = write_sheet(found.root, sheet, academy, today)
    screen = Screen(quiet)
    screen.result(str(files.html))
    screen.remark(
        f"Trial {sheet.trial_id}: {sheet.shots_per_arm} shots of each arm on {sheet.n_days} days; proposed: {sheet.proposed}."
    )
    screen.remark(f"The same as a table: {files.csv}. The trial is declared in {files.declaration}.")


def show(
    trial_id: Annotated[str, typer.Argument(metavar="TRIAL_ID", help="As on the Trials page.", show_default=False)],
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Show what a trial has shown: verdict, sides, what to do next."""
    from pipelines.stages.trial_plan import shown_trial
    from pipelines.workspace import find_workspace
    from warehouse.connection import open_warehouse

    found = find_workspace(workspace)
    academy = found.academy()
    with open_warehouse(found.warehouse, read_only=True) as con:
        lines = shown_trial(con, academy, trial_id, today_at(academy.time_zone))
    for line in lines:
        Screen(quiet).result(line)


def add_to(app: typer.Typer) -> None:
    """Register these commands."""
    trial.command(epilog='Example: speedworth trial plan p07 --question "wider stance" --arms "normal, wider" -w my-academy')(
        plan
    )
    trial.command(epilog="Example: speedworth trial show p07-20260314 -w my-academy")(show)
    app.add_typer(trial, name="trial")
