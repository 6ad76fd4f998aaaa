"""What starts the timetable with the machine: a systemd unit, a launchd property list, a line for Windows."""

from __future__ import annotations

import plistlib
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from schemas.errors import UsageError

System = Literal["linux", "macos", "windows"]
SYSTEMS: tuple[System, ...] = ("linux", "macos", "windows")


@dataclass(frozen=True)
class ServiceText:
    """A description of the service, and what to do with it.

    Attributes
    ----------
    text : str
    todo : tuple of str
        One line each.
    """

    text: str
    todo: tuple[str, ...]


@dataclass(frozen=True)
class Part:
    """What is to start with the machine.

    Attributes
    ----------
    about : str
        In a word or two.
    words : tuple of str
        The command without its folder.
    kind : str
        Stands before the folder in the service's name; empty for an academy's timetable.
    """

    about: str
    words: tuple[str, ...]
    kind: str = ""


def timetable(*, desk: bool) -> Part:
    """An academy's timetable, with the desk beside it where that is wanted."""
    return Part("timetable", ("schedule", *(("--desk",) if desk else ())))


def service_text(system: str, command: tuple[str, ...], folder: Path, part: Part) -> ServiceText:
    """The description for one system.

    Parameters
    ----------
    system : str
        One of :data:`SYSTEMS`.
    command : tuple of str
        What starts speedworth on this machine.
    folder : Path
        The workspace, or the federation's folder.
    part : Part

    Raises
    ------
    UsageError
        For another system, or a path that the system's own form cannot hold.
    """
    words = (*command, *part.words, "-w", str(folder.resolve()))
    if any(ord(letter) < 32 for word in words for letter in word):
        raise UsageError("The path of the folder has a line break or another control character.", "Rename the folder.")
    name = re.sub(r"[^A-Za-z0-9-]+", "-", folder.resolve().name).strip("-") or "academy"
    about = f"{part.about} of {name}"
    name = f"{part.kind}-{name}" if part.kind else name
    made = {"linux": _systemd, "macos": _launchd, "windows": _task}
    if system not in made:
        raise UsageError(f"{system} is no system for which this is known.", f"Use one of: {', '.join(SYSTEMS)}.")
    return made[system](words, name, about)


def _systemd(words: tuple[str, ...], name: str, about: str) -> ServiceText:
    def quoted(word: str) -> str:
        for sign, written in (("\\", "\\\\"), ('"', '\\"'), ("%", "%%"), ("$", "$$")):
            word = word.replace(sign, written)
        return f'"{word}"'

    unit = f"speedworth-{name}.service"
    text = f"""[Unit]
Description=speedworth: {about}
After=network.target

[Service]
ExecStart={" ".join(map(quoted, words))}
Restart=on-failure
RestartSec=30
TimeoutStopSec=90
UMask=0077
NoNewPrivileges=true

[Install]
WantedBy=default.target
"""
    return ServiceText(
        text,
        (
            f"Save it as ~/.config/systemd/user/{unit}, then: systemctl --user enable --now {unit}",
            "To have it run from boot, before anybody logs in: loginctl enable-linger",
        ),
    )


def _launchd(words: tuple[str, ...], name: str, _about: str) -> ServiceText:
    label = f"speedworth.{name}"
    content = {
        "Label": label,
        "ProgramArguments": list(words),
        "RunAtLoad": True,
        "KeepAlive": {"SuccessfulExit": False},
        "ThrottleInterval": 30,
        "ExitTimeOut": 90,
        "Umask": 0o077,
    }
    place = f"~/Library/LaunchAgents/{label}.plist"
    return ServiceText(
        plistlib.dumps(content, sort_keys=False).decode(),
        (f"Save it as {place}, then: launchctl bootstrap gui/$(id -u) {place}", "It runs while this user is logged in."),
    )


def _task(words: tuple[str, ...], name: str, _about: str) -> ServiceText:
    if any('"' in word for word in words):
        raise UsageError("A path with a quotation mark cannot be written for Windows.", "Rename the folder.")
    run = " ".join(f'\\"{word}\\"' for word in words)
    line = f'schtasks /Create /TN "speedworth {name}" /SC ONSTART /RU "%USERDOMAIN%\\%USERNAME%" /RP * /TR "{run}"\n'
    return ServiceText(line, ("Run the line once in a command prompt of an administrator; it asks for this user's password.",))
