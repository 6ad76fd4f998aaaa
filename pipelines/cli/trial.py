"""Commands about technique trials: trial plan, trial label, trial show, trial end, trial resume."""

from __future__ import annotations

from datetime import datetime, timedelta
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated, Any

import typer

from pipelines.cli.options import HERE, Quiet, WorkspaceOption, now, today_at
from pipelines.cli.screen import Screen
from schemas.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date
    from pathlib import Path

trial = typer.Typer(
    help="Technique trials: plan one, label its shots, show its result, end it.", rich_markup_mode=None, no_args_is_help=True
)


WAITS = "It waits in the inbox: `speedworth run` takes it in."


class EndRule(StrEnum):
    """Why a trial is ended."""

    SHEET = "sheet"
    SETTLED = "settled"
    STOPPED = "stopped"


def plan(
    player_id: Annotated[str, typer.Argument(metavar="PLAYER_ID", help="The player's id.", show_default=False)],
    question: Annotated[str, typer.Option(help="The one thing that changes.", show_default=False)],
    arms: Annotated[str, typer.Option(help="Arms by amount of the change, with commas; normal among them.")] = "normal, changed",
    normal_arm: Annotated[str, typer.Option("--normal", help="The arm that is the player's normal.")] = "normal",
    shots: Annotated[
        int | None, typer.Option(min=10, max=400, help="Shots of each arm.", show_default="what can show it")
    ] = None,
    days: Annotated[int, typer.Option(min=2, max=14, help="Days.")] = 2,
    club: Annotated[str, typer.Option(help="The club.")] = "driver",
    trial_id: Annotated[str, typer.Option("--id", help="Id of the trial.", show_default="player and day")] = "",
    began_on: Annotated[
        datetime | None,
        typer.Option(formats=["%Y-%m-%d"], metavar="DAY", help="First day of a trial already begun.", show_default="today"),
    ] = None,
    seed: Annotated[int | None, typer.Option(min=0, help="Gives the same order again.", show_default="from the id")] = None,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Make a balanced random shot sheet to print, and say what it can show."""
    from pipelines.stages.trial_plan import TrialWish, plan_trial, planned_ids, write_sheet
    from pipelines.workspace import find_workspace
    from warehouse.connection import open_warehouse

    found = find_workspace(workspace)
    academy = found.academy()
    today = today_at(academy.time_zone)
    first = began_on.date() if began_on else today
    if first > today + timedelta(days=366):
        raise UsageError(f"{first} is more than a year ahead.", "Give the trial's first day.")
    named = tuple(arm.strip() for arm in arms.split(",") if arm.strip())
    wish = TrialWish(player_id, question, named, normal_arm, shots, days, club, trial_id, seed)
    with open_warehouse(found.warehouse, read_only=True) as con:
        sheet = plan_trial(con, academy, wish, first, planned_ids(found.root))
    files = write_sheet(found.root, sheet, academy, first)
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


def label(
    trial_id: Annotated[str, typer.Argument(metavar="TRIAL_ID", help="As on the Trials page.", show_default=False)],
    file: Annotated[
        str, typer.Argument(metavar="FILE", help="The device's file, a file that was taken in, or a session.", show_default=False)
    ],
    day: Annotated[int, typer.Option(min=1, help="Day of the planned sheet.")] = 1,
    arms: Annotated[
        str, typer.Option(help="The sheet as carried out: 8 warm-up, 5 normal, void, 5 wider.", show_default="the planned sheet")
    ] = "",
    missed: Annotated[str, typer.Option(help="Lines of the sheet that were not read.", show_default=False)] = "",
    left_out: Annotated[str, typer.Option("--left-out", help="Shots that are not of the sheet.", show_default=False)] = "",
    session: Annotated[str, typer.Option(help="Which session of the file.", show_default=False)] = "",
    accept: Annotated[bool, typer.Option("--accept", help="Label although sheet and file differ.")] = False,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Join a shot sheet with the device's file: its shots get arm and block."""
    from pipelines.stages import trial_label as stage
    from pipelines.workspace import find_workspace
    from warehouse.connection import open_warehouse

    found = find_workspace(workspace)
    screen = Screen(quiet)
    with open_warehouse(found.warehouse, read_only=True) as con:
        trial_row = stage.trial_of(con, trial_id)
        sheet = stage.typed_lines(arms, trial_row.arms) if arms else stage.planned_lines(found.root, trial_id, day)
        shots = stage.shots_named(con, found, trial_row, file, session, now())
    done = stage.labelled(shots, sheet, trial_id, stage.numbers_in(missed), stage.numbers_in(left_out))
    for line in stage.told_differences(done):
        screen.remark(line)
    if not done.agrees and not accept:
        raise UsageError("Sheet and file differ; nothing was labelled.", "Look at the lines above, then give --accept.")
    screen.result(str(stage.lay_down(found, trial_row, done)))
    screen.remark(WAITS)


def end(
    trial_id: Annotated[str, typer.Argument(metavar="TRIAL_ID", help="As on the Trials page.", show_default=False)],
    rule: Annotated[
        EndRule,
        typer.Option(help="sheet: all its shots are struck; settled: its result was clear before; stopped.", show_default=False),
    ],
    last_day: Annotated[
        datetime | None,
        typer.Option("--on", formats=["%Y-%m-%d"], metavar="DAY", help="Last day that counts.", show_default="today"),
    ] = None,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """End a trial: shots of later days do not count for it."""
    from pipelines.stages.trial_end import ended_row

    def ended(row: dict[str, Any], today: date) -> dict[str, Any]:
        return ended_row(row, last_day.date() if last_day else today, rule.value, today)

    _lay(trial_id, workspace, ended, Screen(quiet))


def resume(
    trial_id: Annotated[str, typer.Argument(metavar="TRIAL_ID", help="As on the Trials page.", show_default=False)],
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Take up a trial again that was ended."""
    from pipelines.stages.trial_end import resumed_row

    _lay(trial_id, workspace, lambda row, _today: resumed_row(row), Screen(quiet))


def _lay(trial_id: str, workspace: Path, changed: Callable[[dict[str, Any], date], dict[str, Any]], screen: Screen) -> None:
    """Lay a trial into the inbox as it is declared, with what changes of it by today."""
    from pipelines.stages.trial_end import declared_row, lay_end
    from pipelines.workspace import find_workspace
    from warehouse.connection import open_warehouse

    found = find_workspace(workspace)
    with open_warehouse(found.warehouse, read_only=True) as con:
        row = declared_row(con, trial_id)
    screen.result(str(lay_end(found, changed(row, today_at(found.academy().time_zone)))))
    screen.remark(WAITS)


def add_to(app: typer.Typer) -> None:
    """Register these commands."""
    trial.command(epilog='Example: speedworth trial plan p07 --question "wider stance" --arms "normal, wider" -w my-academy')(
        plan
    )
    trial.command(epilog="Example: speedworth trial label p07-20260314 shots_2026-03-14.csv --day 1 -w my-academy")(label)
    trial.command(epilog="Example: speedworth trial show p07-20260314 -w my-academy")(show)
    trial.command(epilog="Example: speedworth trial end p07-20260314 --rule sheet -w my-academy")(end)
    trial.command(epilog="Example: speedworth trial resume p07-20260314 -w my-academy")(resume)
    app.add_typer(trial, name="trial")
