"""Commands of the desk: desk, key add, key list, key remove, key link."""

from __future__ import annotations

import subprocess
import sys
import threading
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pipelines.cli.options import HERE, Quiet, WorkspaceOption, named_place, now, pasted
from pipelines.cli.screen import Screen
from schemas.errors import NotFoundError, UsageError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from pipelines.desk.visit import Desk
    from pipelines.workspace import Workspace

PORT = 8016


Host = Annotated[str, typer.Option("--host", metavar="ADDRESS", help="Address that the desk listens at.")]
Port = Annotated[int, typer.Option("--port", min=1, max=65535, help="Port that the desk listens at.")]
Certificate = Annotated[
    Path | None, typer.Option("--tls-cert", parser=named_place, metavar="FILE", help="The desk's certificate (PEM).")
]
CertificateKey = Annotated[Path | None, typer.Option("--tls-key", parser=named_place, metavar="FILE", help="Its key (PEM).")]
Names = Annotated[list[str] | None, typer.Option("--name", help="A name by which phones call this machine.")]


def desk_options(host: str, port: int, tls_cert: Path | None, tls_key: Path | None, names: Sequence[str]) -> list[str]:
    """The options of the desk as they are typed."""
    tls = [("--tls-cert", tls_cert), ("--tls-key", tls_key)]
    given = [part for option, path in tls if path is not None for part in (option, str(path))]
    return ["--host", host, "--port", str(port), *given, *(part for name in names for part in ("--name", name))]


def desk(
    host: Host = "127.0.0.1",
    port: Port = PORT,
    tls_cert: Certificate = None,
    tls_key: CertificateKey = None,
    name: Names = None,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Hand in, decide and drop files in a browser, on the academy's own network, until stopped with Ctrl-C.

    Only this machine reaches it unless --host says otherwise. For phones: a certificate (--tls-cert, --tls-key), or a reverse
    proxy on this machine that has one and passes on to this port. Without TLS, whoever listens in the network reads along.
    """
    from pipelines.desk.service import desk_of, is_loopback, serve
    from pipelines.workspace import find_workspace

    if (tls_cert is None) != (tls_key is None):
        raise UsageError("A certificate wants its key, and a key its certificate.", "Give both --tls-cert and --tls-key.")
    for path in (tls_cert, tls_key):
        if path is not None and not path.is_file():
            raise UsageError(f"There is no file {path}.", "Certificate and key are PEM files: give where they lie.")
    tls = (tls_cert, tls_key) if tls_cert is not None and tls_key is not None else None
    opened, screen = desk_of(find_workspace(workspace), secure=tls is not None), Screen(quiet)
    address = f"{'https' if tls else 'http'}://{f'[{host}]' if ':' in host else host}:{port}"
    _tell(screen, opened, address, workspace, is_open=not is_loopback(host) and tls is None)
    serve(opened, host, port, tls, tuple(name or ()))


@contextmanager
def desk_beside(workspace: Workspace, options: Sequence[str], tell: Callable[[str], None]) -> Iterator[None]:
    """The desk as a child of this process, within the block; ``tell`` hears when it ends before."""
    from pipelines.flows.server import stop_child

    code = "from pipelines.cli.main import run; run()"
    command = [sys.executable, "-c", code, "desk", *options, "-w", str(workspace.root)]
    # A session of its own: Ctrl-C reaches only this process, which then stops the child in order.
    child = subprocess.Popen(command, start_new_session=True)  # noqa: S603 - fixed words, the workspace, and what was typed
    stopped = threading.Event()

    def watch() -> None:
        child.wait()
        if not stopped.is_set():
            tell(f"The desk has ended by itself (exit code {child.returncode}); the timetable goes on without it.")

    watcher = threading.Thread(target=watch, daemon=True)
    watcher.start()
    try:
        yield
    finally:
        stopped.set()
        stop_child(child)
        watcher.join()


def _tell(screen: Screen, opened: Desk, address: str, workspace: Path, *, is_open: bool) -> None:
    from pipelines.desk.showing import demo_links

    screen.result(f"{address}/")
    for role, who, link in demo_links(opened, address):
        screen.result(f"{role:<8} {who:<12} {link}")
    if not opened.keys.keys():
        screen.remark(f"Nobody has a key yet: speedworth key add NAME --role data -w {pasted(workspace)}")
    if is_open:
        screen.remark("Without TLS, whoever listens in this network reads along: give --tls-cert and --tls-key.")
    screen.remark("Stop with Ctrl-C.")


def add(
    name: Annotated[str, typer.Argument(metavar="NAME", help="Name to come in with.", show_default=False)],
    role: Annotated[str, typer.Option("--role", help="coach, physio or data.")],
    group: Annotated[
        list[str] | None,
        typer.Option("--group", metavar="NAME", help="Limit a coach to the players of this group; may be repeated."),
    ] = None,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Make a key for coach, physio or data person, or give it a new passphrase; prints the passphrase, once."""
    from pipelines.desk.keys import Keys
    from pipelines.desk.showing import known_groups, new_passphrase, role_of
    from pipelines.workspace import find_workspace

    found, passphrase = find_workspace(workspace), new_passphrase()
    groups = known_groups(found, tuple(group)) if group else None
    Keys(found.desk).add_key(name, role_of(role), passphrase, now(), groups)
    screen = Screen(quiet)
    screen.result(passphrase)
    screen.remark("It is shown this once. Whoever was in with an older one is out.")
    if groups:
        screen.remark("The pages of these groups are written by the next `speedworth run`, or the next night.")


def listed(workspace: WorkspaceOption = HERE, quiet: Quiet = False) -> None:
    """List who has a key, by role, and the groups that it is limited to."""
    from pipelines.desk.keys import Keys
    from pipelines.workspace import find_workspace

    keys = Keys(find_workspace(workspace).desk).keys()
    Screen(quiet).table(("name", "role", "groups"), [(key.name, key.role, ", ".join(key.groups or ())) for key in keys])


def remove(
    name: Annotated[str, typer.Argument(metavar="NAME", help="Whose key.", show_default=False)],
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Take a key away; whoever is in with it is out at once."""
    from pipelines.desk.keys import Keys
    from pipelines.workspace import find_workspace

    Keys(find_workspace(workspace).desk).remove_key(name)
    Screen(quiet).remark(f"{name} is out.")


def link(
    player: Annotated[str, typer.Argument(metavar="PLAYER", help="Id of the player.", show_default=False)],
    guardian: Annotated[bool, typer.Option("--guardian", help="The guardian's link.")] = False,
    renew: Annotated[bool, typer.Option("--renew", help="A new one; the old one opens nothing any more.")] = False,
    workspace: WorkspaceOption = HERE,
    quiet: Quiet = False,
) -> None:
    """Print the path of a player's personal link, to put behind the desk's address."""
    from pipelines.desk.keys import Keys
    from pipelines.desk.view import ViewFile
    from pipelines.workspace import find_workspace

    folder = find_workspace(workspace).desk
    keys = Keys(folder)
    if ViewFile(folder).read().player(player) is None:
        raise NotFoundError(f"There is no player {player}.", "Take in a players file first: speedworth run.")
    make = keys.renew_link if renew else keys.personal_link
    path, screen = f"/p/{make(player, 'guardian' if guardian else 'player', now())}", Screen(quiet)
    screen.result(path)
    screen.remark(
        f"It goes behind the address that `speedworth desk` prints; on this machine alone: http://127.0.0.1:{PORT}{path}"
    )
    screen.remark("The desk prints the whole link, with a code to scan, under Links.")


def add_to(app: typer.Typer) -> None:
    """Register these commands."""
    app.command(epilog="Example: speedworth desk -w my-academy")(desk)
    group = typer.Typer(help="Who may come in to the desk.", no_args_is_help=True, rich_markup_mode=None)
    group.command("add", epilog="Example: speedworth key add anna --role coach -w my-academy")(add)
    group.command("list", epilog="Example: speedworth key list -w my-academy")(listed)
    group.command("remove", epilog="Example: speedworth key remove anna -w my-academy")(remove)
    group.command("link", epilog="Example: speedworth key link p01 -w my-academy")(link)
    app.add_typer(group, name="key")
