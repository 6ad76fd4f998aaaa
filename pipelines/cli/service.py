"""Commands about what runs by itself: service, log."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipelines.cli.options import HERE, Quiet, WorkspaceOption
from pipelines.cli.screen import Screen
from schemas.errors import UsageError

if TYPE_CHECKING:
    from pipelines.stages.service_text import Part

Printed = Annotated[bool, typer.Option("--print", help="Print it; nothing is installed.")]
SystemOption = Annotated[str, typer.Option("--system", help="linux, macos or windows.", show_default="this machine's")]


def service(
    printed: Printed = False,
    system: SystemOption = "",
    desk: Annotated[bool, typer.Option("--desk", help="Open the desk beside the timetable.")] = False,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Describe the timetable as a service that starts with the machine.

    A systemd unit on Linux, a launchd property list on macOS, a line for the task scheduler on Windows.
    """
    from pipelines.stages.service_text import timetable
    from pipelines.workspace import find_workspace

    refuse_to_install(printed=printed)
    show_service(find_workspace(workspace).root, timetable(desk=desk), system, Screen(quiet))


def refuse_to_install(*, printed: bool) -> None:
    """Raise unless the description is to be printed."""
    if not printed:
        raise UsageError("Nothing is installed by this command.", "Give --print, and save what it prints as it says.")


def show_service(folder: Path, part: Part, system: str, screen: Screen) -> None:
    """Print how a part starts with the machine; empty ``system``: this machine's own."""
    from pipelines.stages.service_text import service_text

    here = {"darwin": "macos", "win32": "windows"}.get(sys.platform, "linux")
    made = service_text(system or here, _command(), folder, part)
    screen.result(made.text.rstrip("\n"))
    for line in made.todo:
        screen.remark(line)


def _command() -> tuple[str, ...]:
    """What starts this program: the script beside this Python, or the one that is found by name."""
    beside = Path(sys.executable).parent / ("speedworth.exe" if sys.platform == "win32" else "speedworth")
    found = str(beside) if beside.is_file() else shutil.which("speedworth")
    return (found,) if found else (sys.executable, "-c", "from pipelines.cli.main import run; run()")


def log(
    last: Annotated[int, typer.Option("--last", min=1, max=100_000, help="How many lines.")] = 20,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """List what was done to the workspace: nights, intakes, reviews, exports, with counts and times (UTC)."""
    from pipelines.stages.audit_log import logged
    from pipelines.workspace import find_workspace

    found, screen = find_workspace(workspace), Screen(quiet)
    lines = logged(found)[-last:]
    if not lines:
        screen.remark("Nothing has been done yet.")
        return
    screen.table(("when (UTC)", "what", "counts"), [(f"{line.at:%Y-%m-%d %H:%M:%S}", line.what, line.counts) for line in lines])


def add_to(app: typer.Typer) -> None:
    """Register these commands."""
    app.command(epilog="Example: speedworth service --print --desk -w my-academy")(service)
    app.command(epilog="Example: speedworth log --last 50 -w my-academy")(log)
