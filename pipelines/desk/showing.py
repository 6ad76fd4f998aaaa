"""What the command line shows of the desk: made passphrases, and the links of the invented academy."""

from __future__ import annotations

import base64
import secrets
from typing import TYPE_CHECKING

from pipelines.demo.academy import TRUTH_FILE
from pipelines.desk.keys import STAFF, Role
from pipelines.desk.view import ViewFile
from schemas.errors import UsageError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pipelines.desk.visit import Desk
    from pipelines.workspace import Workspace


def new_passphrase() -> str:
    """80 bits in four groups of four letters and digits."""
    letters = base64.b32encode(secrets.token_bytes(10)).decode().lower()
    return "-".join(letters[place : place + 4] for place in range(0, 16, 4))


def role_of(word: str) -> Role:
    """The role of that name.

    Raises
    ------
    UsageError
    """
    found = next((role for role in STAFF if role == word), None)
    if found is None:
        raise UsageError(f"{word} is no role of a key.", f"Use one of: {', '.join(STAFF)}; players have personal links.")
    return found


def known_groups(workspace: Workspace, asked: tuple[str, ...]) -> tuple[str, ...]:
    """The groups that are asked for, when each has a member.

    Raises
    ------
    UsageError
    """
    known = ViewFile(workspace.desk).read().group_names()
    unknown = sorted(set(asked) - set(known))
    if unknown:
        todo = f"Groups with members: {', '.join(known)}." if known else "Name groups in a players file, then `speedworth run`."
        raise UsageError(f"Nobody is in the group {unknown[0]}.", todo)
    return asked


def demo_links(desk: Desk, address: str) -> Iterator[tuple[str, str, str]]:
    """Role, name and a link that opens it; for the invented academy only, and new at every start."""
    if not (desk.workspace.root / TRUTH_FILE).exists():
        return
    for staff in STAFF:
        yield staff, staff, f"{address}/p/{desk.keys.renew_link(staff, staff, desk.clock())}"
    first = next(iter(desk.view_file.read().players()), None)
    linked: tuple[Role, ...] = ("player", "guardian") if first else ()
    for role in linked:
        yield (
            role,
            first["alias"] if first else "",
            f"{address}/p/{desk.keys.personal_link(first['player_id'], role, desk.clock()) if first else ''}",
        )
