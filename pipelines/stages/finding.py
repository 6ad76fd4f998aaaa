"""What an examination found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from schemas.errors import SpeedworthError

State = Literal["fine", "look", "broken"]


@dataclass(frozen=True)
class Finding:
    """What one examination found.

    Attributes
    ----------
    about, says : str
        What was examined, and what was found.
    state : {"fine", "look", "broken"}
    todo : str
        What to do; empty when it is fine.
    exit_code : int
        Of the command, when it is broken.
    """

    about: str
    says: str
    state: State = "fine"
    todo: str = ""
    exit_code: int = 0


def broken(about: str, fault: SpeedworthError) -> Finding:
    """A fault as a finding."""
    return Finding(about, fault.what, "broken", fault.todo, fault.exit_code)
