"""The federation's folder: federation.toml, checked with the line of each fault, and the key by which workers are known."""

from __future__ import annotations

import os
import secrets
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from pipelines.setting_list import CLOCK, Setting
from pipelines.settings_file import (
    Place,
    Source,
    checked,
    commented,
    document_of,
    refuse_unknown_keys,
    refuse_unknown_zone,
    settings_text,
)
from pipelines.workspace import lay_folder
from schemas.academy import LANGUAGES
from schemas.errors import SettingsError, WorkspaceError
from schemas.federation import ANY_MACHINE, FEDERATED_NAME, FederatedAcademy, Federation, FederationReport, FederationServer

FILE_NAME = "federation.toml"
KEY_VARIABLE = "SPEEDWORTH_FEDERATION_KEY"
"""Environment variable that may hold the key in place of the file."""
_NAME_SAYS = "Letters without accents, digits, dot, dash and underscore, at most 63, the first a letter or a digit."
_BLANK, _SERVER, _REPORT = Federation("", ""), FederationServer(), FederationReport()

SETTINGS = (
    Setting("federation", "name", "Name of the federation, as it stands on its pages.", None),
    Setting("federation", "time_zone", 'Time zone of the nights (IANA name, e.g. "Europe/Berlin").', None),
    Setting(
        "federation", "nightly_at", 'Time of the nights, HH:MM, or "off": only rounds sent by hand.', _BLANK.nightly_at, CLOCK
    ),
    Setting(
        "federation",
        "academies_per_run",
        "How many academies of one queue and one time a run takes, one after the other; 0: what suits their number. Each "
        "night is done once and tried again by itself, whoever shares its run.",
        _BLANK.academies_per_run,
        low=0,
        high=100,
    ),
    Setting(
        "federation", "tries", "How often a night is tried that fails in a way that time may mend.", _BLANK.tries, low=1, high=10
    ),
    Setting(
        "federation",
        "again_after_min",
        "Minutes until the second try; each further one waits four times as long.",
        _BLANK.again_after_min,
        low=0,
        high=240,
    ),
    Setting(
        "federation",
        "night_limit_min",
        "Minutes after which a night that is not over is ended and told as failed, so that others are done; 0: never.",
        _BLANK.night_limit_min,
        low=0,
        high=1440,
    ),
    Setting("federation", "roll_up", "Folder or URL where the academies' shared aggregates lie; empty: none.", _BLANK.roll_up),
    Setting("server", "address", "By which workers call the server: http:// or https://, name, port.", _SERVER.address),
    Setting(
        "server",
        "listen",
        "Address at which it listens on its own machine, with a port behind a reverse proxy; 0.0.0.0: every address it has.",
        _SERVER.listen,
    ),
    Setting(
        "server",
        "database_url",
        "postgresql://USER@HOST/NAME for many academies or machines; empty: a file in this folder, enough for a dozen. Leave the "
        "password out, and put it into PGPASSWORD or ~/.pgpass of the server's user.",
        _SERVER.database_url,
    ),
    Setting(
        "server",
        "plain_http",
        "Whether it may listen beyond its own machine without https, because the network itself is encrypted.",
        _SERVER.plain_http,
    ),
    Setting("server", "tls_cert", "Certificate (PEM) for https, on the server's machine; its key in tls_key.", ""),
    Setting("server", "tls_key", "Key of that certificate.", ""),
    Setting(
        "server", "trusted_ca", "Certificates (PEM) by which workers know the server, where the machine's do not suffice.", ""
    ),
    Setting(
        "report",
        "report_at",
        'Time at which the federation\'s pages are written each day, HH:MM, or "off": `speedworth federation report` by hand.',
        _REPORT.report_at,
        CLOCK,
    ),
    Setting("report", "machine", "Machine whose worker writes them, into site/ of its own copy of this folder.", _REPORT.machine),
    Setting("report", "language", f"Language of the pages: {' or '.join(LANGUAGES)}.", _REPORT.language, LANGUAGES),
    Setting("report", "speed", "Unit of speeds on the pages: mph, m/s or km/h.", _REPORT.speed, ("mph", "m/s", "km/h")),
    Setting("report", "length", "Unit of scatter on the pages: yd or m.", _REPORT.length, ("yd", "m")),
)
_ACADEMY = (
    Setting("academies", "name", f"Name by which server and roll-up know the academy. {_NAME_SAYS}", None),
    Setting("academies", "workspace", "Folder of the academy, as the machines that do its nights see it.", None),
    Setting("academies", "nightly_at", "Time of its nights, where it differs.", _BLANK.nightly_at, CLOCK),
    Setting("academies", "time_zone", "Time zone of its nights, where it differs.", ""),
)
_TITLES = {
    "federation": "The federation.",
    "server": "The server. It holds names of academies, times, exit states and counts, and nothing of what academies hold.",
    "report": "The federation's own pages, from what the academies share in roll_up.",
}
_TAIL = """
# Every academy has a workspace of its own: one folder, one database, one writer. One [[academies]] for each.
# [[academies]]
# name = "north"
# workspace = "/srv/academies/north"   # as the machines that do its nights see it; relative: from this folder
# machines = ["clubhouse"]             # machines that hold its data; left out: every machine reaches the folder
# nightly_at = "03:15"                 # where it differs
# time_zone = "Atlantic/Canary"        # where it differs
"""


@dataclass(frozen=True)
class FederationFolder:
    """Where a federation's settings, its key and what its server keeps lie.

    Attributes
    ----------
    root : Path
    """

    root: Path

    @property
    def settings(self) -> Path:
        """federation.toml."""
        return self.root / FILE_NAME

    @property
    def key_file(self) -> Path:
        """Secret by which workers and commands are known to the server; copied to each machine by hand."""
        return self.root / ".federation-key"

    @property
    def server_home(self) -> Path:
        """What the server keeps for itself."""
        return self.root / ".prefect"

    def federation(self) -> Federation:
        """The settings.

        Raises
        ------
        SettingsError
            When federation.toml cannot be used as written.
        """
        return federation_from_text(settings_text(self.settings), self.root.resolve())

    def key(self) -> str:
        """The secret.

        Raises
        ------
        WorkspaceError
            When this machine has none.
        """
        with suppress(OSError):
            found = os.environ.get(KEY_VARIABLE, "") or self.key_file.read_text(encoding="ascii").strip()
            if found:
                return found
        raise WorkspaceError(
            f"There is no key of the federation on this machine ({self.key_file}).",
            f"Copy .federation-key from the server's folder, kept to its owner, or put what it holds into {KEY_VARIABLE}.",
        )


def create_federation(folder: Path, time_zone: str) -> FederationFolder:
    """Make a folder with a commented federation.toml and a new key.

    Raises
    ------
    WorkspaceError
        When there is one already, or the folder cannot be written.
    """
    made = FederationFolder(folder)
    if made.settings.exists():
        raise WorkspaceError(f"{folder} is a federation's folder already.", "Choose another, or go on with this one.")
    texts = {made.settings: default_federation(folder.resolve().name, time_zone)}
    if not made.key_file.exists():  # one that was copied here before stays
        texts[made.key_file] = secrets.token_urlsafe(32) + "\n"
    lay_folder(folder, (), texts)
    return made


def find_federation(folder: Path) -> FederationFolder:
    """The federation's folder at ``folder``.

    Raises
    ------
    WorkspaceError
        When there is none.
    """
    found = FederationFolder(folder)
    if not found.settings.is_file():
        raise WorkspaceError(
            f"There is no federation in {folder} (no {FILE_NAME}).",
            "Name its folder with -w DIR, or make one with `speedworth federation new DIR`.",
        )
    return found


def default_federation(name: str, time_zone: str, academies: str = _TAIL, **others: str | int) -> str:
    """Text of a commented federation.toml; ``others`` gives the value of further keys by their name."""
    values = {"name": name, "time_zone": time_zone, **others}
    return commented("Settings of this federation.", SETTINGS, _TITLES, values, academies)


def federation_from_text(text: str, root: Path) -> Federation:
    """The settings that the text of a federation.toml holds; relative folders and files are read from ``root``.

    Raises
    ------
    SettingsError
        When the text is not TOML, a key is unknown or missing, or a value is not allowed; it names line and key.
    """
    document, source = document_of(FILE_NAME, text), Source(FILE_NAME, text)
    _refuse_unknown(document, source)
    values = {section: _values(SETTINGS, document.get(section, {}), source, section) for section in _TITLES}
    top = values["federation"]
    refuse_unknown_zone(top["time_zone"], Place(source, "federation", "time_zone"))
    top["roll_up"] = _placed(top["roll_up"], root) if top["roll_up"] else ""
    return Federation(
        **top,
        server=_server(values["server"], source, root),
        report=_report(values["report"], top["roll_up"], source),
        academies=_academies(document, source, top, root),
    )


def _refuse_unknown(document: dict[str, Any], source: Source) -> None:
    sections = (*_TITLES, "academies")
    for section, content in document.items():
        place = Place(source, section)
        if section not in sections:
            raise SettingsError(f"{place} is not a section.", f"Allowed: {', '.join(sections)}.")
        if section == "academies":
            _refuse_no_list(content, place)
        elif isinstance(content, dict):
            refuse_unknown_keys(content, tuple(s.key for s in SETTINGS if s.section == section), place)
        else:
            raise SettingsError(f"{place} is not a section.", f"Write [{section}] above its settings.")


def _refuse_no_list(content: Any, place: Place) -> None:
    if not isinstance(content, list):
        raise SettingsError(f"{place} is not a list of academies.", "Begin each academy with [[academies]].")


def _values(settings: tuple[Setting, ...], given: dict[str, Any], source: Source, section: str, nth: int = 1) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for setting in (one for one in settings if one.section == section):
        place = Place(source, section, setting.key, nth)
        if setting.key in given:
            found[setting.key] = checked(setting, given[setting.key], place)
        elif setting.default is None:
            raise SettingsError(f"{Place(source, section, nth=nth)} {setting.key} is missing.", setting.comment)
        else:
            found[setting.key] = setting.default
    return found


def _placed(written: str, root: Path) -> str:
    """A folder as an absolute path; a URL as it is."""
    return written if "://" in written else str(root / Path(written).expanduser())


def _server(values: dict[str, Any], source: Source, root: Path) -> FederationServer:
    files = ("tls_cert", "tls_key", "trusted_ca")
    found: dict[str, Any] = {name: root / written if (written := values.pop(name)) else None for name in files}
    if (found["tls_cert"] is None) != (found["tls_key"] is None):
        place = Place(source, "server", "tls_cert" if found["tls_cert"] else "tls_key")
        raise SettingsError(
            f"{place} stands alone.", "A certificate wants its key, and a key its certificate: set both, or none."
        )
    _refuse_odd_address(values["address"], Place(source, "server", "address"))
    _refuse_odd_database(values["database_url"], Place(source, "server", "database_url"))
    return FederationServer(**values, **found)


def _report(values: dict[str, Any], roll_up: str, source: Source) -> FederationReport:
    found = FederationReport(**values)
    place = Place(source, "report", "report_at")
    if found.machine:
        _refuse_odd_name(found.machine, Place(source, "report", "machine"))
    if found.is_timed and not found.machine:
        raise SettingsError(f"{place} names a time, and no machine.", "Set machine in [report]: its worker writes the pages.")
    if found.is_timed and not roll_up:
        raise SettingsError(f"{place} names a time, and roll_up in [federation] is empty.", "Write where the academies share to.")
    return found


def _refuse_odd_address(address: str, place: Place) -> None:
    said = 'Write http:// or https://, a name and a port, e.g. "https://federation.example:8017".'
    try:
        parts = urlsplit(address)
        whole = parts.scheme in {"http", "https"} and parts.hostname and parts.port
    except ValueError:
        whole = False
    if not whole or parts.path.strip("/") or parts.username or parts.query:
        raise SettingsError(f'{place} is "{address}".', said)


def _refuse_odd_database(url: str, place: Place) -> None:
    if not url:
        return
    try:
        parts = urlsplit(url)
        whole = parts.scheme == "postgresql" and parts.hostname and parts.path.strip("/") and (parts.port or True)
    except ValueError:
        whole = False
    if not whole:
        # never the value itself: it may hold a password
        raise SettingsError(
            f"{place} is not the address of a PostgreSQL database.", 'Write "postgresql://USER@HOST/NAME", or leave it empty.'
        )


def _academies(document: dict[str, Any], source: Source, top: dict[str, Any], root: Path) -> tuple[FederatedAcademy, ...]:
    entries = document.get("academies", [])
    found = tuple(_academy(entry, Place(source, "academies", nth=at), top, root) for at, entry in enumerate(entries, start=1))
    _refuse_twice([one.name.lower() for one in found], "name", source)
    _refuse_twice([str(one.workspace) for one in found], "workspace", source)
    return found


def _refuse_twice(values: list[str], key: str, source: Source) -> None:
    for at, value in enumerate(values, start=1):
        if value in values[: at - 1]:
            other = values.index(value) + 1
            raise SettingsError(
                f'{Place(source, "academies", key, at)} is "{value}", as that of the academy before (no. {other}).',
                "One academy has one name and one workspace, and nobody else has them.",
            )


def _academy(entry: Any, place: Place, top: dict[str, Any], root: Path) -> FederatedAcademy:
    if not isinstance(entry, dict):
        raise SettingsError(f"{place} is not an academy.", "Begin each academy with [[academies]].")
    refuse_unknown_keys(entry, (*(one.key for one in _ACADEMY), "machines"), place)
    inherited = {"nightly_at": top["nightly_at"], "time_zone": top["time_zone"]}
    values = _values(_ACADEMY, inherited | entry, place.source, "academies", place.nth)
    _refuse_odd_name(values["name"], Place(place.source, "academies", "name", place.nth))
    refuse_unknown_zone(values["time_zone"], Place(place.source, "academies", "time_zone", place.nth))
    values["workspace"] = root / Path(values["workspace"]).expanduser()
    machines = _machines(entry.get("machines", []), Place(place.source, "academies", "machines", place.nth))
    return FederatedAcademy(**values, machines=machines)


def _refuse_odd_name(name: str, place: Place) -> None:
    if not FEDERATED_NAME.fullmatch(name):
        raise SettingsError(f'{place} is "{name}".', _NAME_SAYS)


def _machines(written: Any, place: Place) -> tuple[str, ...]:
    if not isinstance(written, list) or not all(isinstance(name, str) for name in written):
        raise SettingsError(f"{place} is {written!r}.", 'Write a list of names, e.g. ["clubhouse"].')
    for name in written:
        _refuse_odd_name(name, place)
        if name == ANY_MACHINE:
            raise SettingsError(f'{place}: no machine can be called "{ANY_MACHINE}".', "Leave machines out for that.")
    return tuple(sorted(set(written)))
