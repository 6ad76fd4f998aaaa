"""Everything speedworth raises on purpose, with the exit code of the command line.

::

    SpeedworthError                 1
    ├── UsageError                  2   a wrong argument or option value
    ├── WorkspaceError              3   no workspace here, or it cannot be written
    ├── SettingsError               4   academy.toml or a mapping cannot be used as written
    ├── IntakeError                 5   a file cannot be read, or has no known kind
    ├── WarehouseError              6   the warehouse cannot be used
    │   ├── WarehouseBusyError      7   another process holds it
    │   ├── WarehouseNewerError     8   it was written by a newer speedworth
    │   └── WarehouseCorruptError   9   a migration was edited, or an audit found broken rows
    ├── NotFoundError              10   no such player, flag, trial or device
    ├── ScheduleError              11   the timetable's server cannot be started or reached
    ├── RenderError                12   the site cannot be built
    └── ProgramError               13   a file of the program itself is damaged

A message is one line: what happened, where, what is allowed, and what to do.
A row fault is not an exception: it is a row of a frame of problems (:mod:`schemas.problems`).
A measure that cannot be computed returns null and a reason code, it does not raise;
it raises ``ValueError`` only for arguments that no data could have (a negative mass, arrays of unequal length).
"""

from __future__ import annotations

from typing import ClassVar


class SpeedworthError(Exception):
    """A fault that a person can act on.

    Parameters
    ----------
    what : str
        One sentence: what happened and where.
    todo : str
        One sentence: what to do now.
    """

    exit_code: ClassVar[int] = 1

    def __init__(self, what: str, todo: str = "") -> None:
        super().__init__(f"{what} {todo}".strip())
        self.what = what
        self.todo = todo


class UsageError(SpeedworthError):
    """A wrong argument or option value."""

    exit_code = 2


class WorkspaceError(SpeedworthError):
    """There is no workspace here, or it cannot be written."""

    exit_code = 3


class SettingsError(SpeedworthError):
    """academy.toml or a mapping cannot be used as written."""

    exit_code = 4


class IntakeError(SpeedworthError):
    """A file cannot be read, or has no known kind."""

    exit_code = 5


class WarehouseError(SpeedworthError):
    """The warehouse cannot be used."""

    exit_code = 6


class WarehouseMemoryError(WarehouseError):
    """Memory does not suffice for what is asked of the warehouse."""

    exit_code = 14


class WarehouseBusyError(WarehouseError):
    """Another process holds the warehouse."""

    exit_code = 7


class WarehouseNewerError(WarehouseError):
    """The warehouse was written by a newer speedworth."""

    exit_code = 8


class WarehouseCorruptError(WarehouseError):
    """A migration was edited after it ran, or an audit found broken rows."""

    exit_code = 9


class NotFoundError(SpeedworthError):
    """No such player, flag, trial or device."""

    exit_code = 10


class ScheduleError(SpeedworthError):
    """The timetable's server cannot be started or reached."""

    exit_code = 11


class RenderError(SpeedworthError):
    """The site cannot be built."""

    exit_code = 12


class ProgramError(SpeedworthError):
    """A file of the program itself is damaged."""

    exit_code = 13
