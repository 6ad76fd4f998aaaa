"""Commands about many academies on many machines: federation new, serve, worker, service, run, nights, report."""

from __future__ import annotations

import os
from datetime import timedelta
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipelines.cli.federation_report import FederationOption, report
from pipelines.cli.options import HERE, Quiet, named_place, now
from pipelines.cli.screen import Screen
from pipelines.cli.service import Printed, SystemOption, refuse_to_install, show_service
from schemas.errors import SpeedworthError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pipelines.flows.federation.rounds import Standing
    from schemas.federation import Federation

MachineOption = Annotated[
    str, typer.Option("--machine", metavar="NAME", help="Name of this machine.", show_default="its host name")
]
AtOnceOption = Annotated[int, typer.Option("--at-once", min=1, max=64, help="How many runs at a time.")]
_COUNTS = ("files", "rows", "loaded", "held")


def new(
    folder: Annotated[Path, typer.Argument(parser=named_place, metavar="DIR", help="Folder to make.", show_default=False)],
    quiet: Quiet = False,
) -> None:
    """Make a federation's folder: settings that list its academies, and the key by which workers are known."""
    from pipelines.federation import create_federation
    from pipelines.workspace import local_time_zone

    made, screen = create_federation(folder, local_time_zone()), Screen(quiet)
    screen.result(str(made.root))
    screen.remark(f"Set name, time zone and academies in {made.settings}.")
    screen.remark(f"Each machine that works for it wants this folder's {made.settings.name} and {made.key_file.name}.")


def serve(folder: FederationOption = HERE, quiet: Quiet = False) -> None:
    """Send each academy's night to the workers when it is due, until stopped with Ctrl-C.

    Start it again after federation.toml was changed. What waits or is at work meanwhile stays.
    """
    from pipelines.federation import find_federation
    from pipelines.flows.federation.server import serve as serve_nights

    serve_nights(find_federation(folder), Screen(quiet).remark)


def worker(
    machine: MachineOption = "",
    at_once: AtOnceOption = 1,
    folder: FederationOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Do nights of the federation on this machine, until stopped with Ctrl-C.

    It wants the federation's folder with federation.toml and .federation-key, and reaches the workspaces under the paths that
    federation.toml names. It takes nights of academies that name this machine, and of those that name none.
    """
    from pipelines.federation import find_federation
    from pipelines.flows.federation.places import this_machine
    from pipelines.flows.federation.worker import work

    work(find_federation(folder), machine or this_machine(), at_once, Screen(quiet).remark)


class FederationPart(StrEnum):
    """What of a federation starts with a machine."""

    SERVE = "serve"
    WORKER = "worker"


def service(
    part: Annotated[FederationPart, typer.Argument(help="What starts: the server, or a worker.", show_default=False)],
    printed: Printed = False,
    system: SystemOption = "",
    machine: MachineOption = "",
    at_once: AtOnceOption = 1,
    folder: FederationOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Describe the federation's server, or a worker, as a service that starts with the machine."""
    from pipelines.federation import find_federation
    from pipelines.flows.federation.worker import queues_of
    from pipelines.stages.service_text import Part

    refuse_to_install(printed=printed)
    found = find_federation(folder)
    federation = found.federation()
    if part is FederationPart.SERVE:
        made = Part("federation server", ("federation", "serve"), "federation")
    else:
        from pipelines.flows.federation.places import this_machine

        name = machine or this_machine()
        queues_of(federation, name)  # a machine that has nothing to do would be started for nothing
        words = ("federation", "worker", "--machine", name, *(("--at-once", str(at_once)) if at_once > 1 else ()))
        made = Part("federation worker", words, "worker")
    show_service(found.root, made, system, Screen(quiet))


def run(
    academy: Annotated[
        list[str] | None, typer.Option("--academy", metavar="NAME", help="This one only; may be repeated.")
    ] = None,
    folder: FederationOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Send one round of nights to the workers now, wait for it, and say how each went."""
    federation, screen = _reached(folder), Screen(quiet)
    from pipelines.flows.federation.rounds import send_round, wait_for

    tag = send_round(federation, academy or ())
    with screen.steps() as tell:
        found = [one for one in wait_for(federation, tag, tell) if one.state]
    _show(screen, found)
    failed = [one.academy for one in found if one.told is None or one.told.why]
    if failed:
        raise SpeedworthError(
            f"{len(failed)} of {len(found)} nights failed: {', '.join(failed)}.",
            "The output of the worker says why; `speedworth run` in the workspace does it by hand.",
        )


def nights(
    days: Annotated[int, typer.Option("--days", min=1, max=90, help="How far to look back.")] = 2,
    folder: FederationOption = HERE,
    quiet: Quiet = False,
) -> None:
    """List how the last night of each academy went: done, failed, lost, at work, waiting for a machine."""
    federation, screen = _reached(folder), Screen(quiet)
    from pipelines.flows.federation.rounds import last_report, standings

    _show(screen, standings(federation, now() - timedelta(days=days)))
    if federation.report.is_timed:
        screen.remark(last_report())


def _reached(folder: Path) -> Federation:
    """See that the server answers, and let Prefect, which is imported after this, reach it."""
    from pipelines.federation import find_federation
    from pipelines.flows.federation.places import client_environment
    from pipelines.flows.federation.server import reach

    found = find_federation(folder)
    federation = found.federation()
    reach(found, federation)
    os.environ.update(client_environment(found, federation))
    return federation


def _show(screen: Screen, standings: Sequence[Standing]) -> None:
    headers = ("academy", "due (UTC)", "night", "why", "machine", *_COUNTS, "s")
    screen.table(headers, [_row(standing) for standing in standings], (*_COUNTS, "s"))


def _row(one: Standing) -> tuple[object, ...]:
    counts = [getattr(one.told, name) for name in _COUNTS] if one.told else [None] * len(_COUNTS)
    due = f"{one.due:%Y-%m-%d %H:%M}" if one.due else ""
    return (one.academy, due, one.state or "none known", one.why, one.machine, *counts, one.told.took_s if one.told else None)


def add_to(app: typer.Typer) -> None:
    """Register these commands."""
    group = typer.Typer(help="Many academies on many machines.", no_args_is_help=True, rich_markup_mode=None)
    group.command("new", epilog="Example: speedworth federation new my-federation")(new)
    group.command("serve", epilog="Example: speedworth federation serve -w my-federation")(serve)
    group.command("worker", epilog="Example: speedworth federation worker --machine clubhouse -w my-federation")(worker)
    group.command("service", epilog="Example: speedworth federation service worker --print -w my-federation")(service)
    group.command("run", epilog="Example: speedworth federation run --academy north -w my-federation")(run)
    group.command("nights", epilog="Example: speedworth federation nights -w my-federation")(nights)
    group.command("report", epilog="Example: speedworth federation report -w my-federation")(report)
    app.add_typer(group, name="federation")
