"""Settings of a federation, as federation.toml holds them. Read and checked by ``pipelines.federation``."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from schemas.academy import OFF, Language, LengthUnit, SpeedUnit

if TYPE_CHECKING:
    from pathlib import Path

FEDERATED_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]{0,62}")
"""Names of academies and machines in a federation: they stand in paths, queues and file names."""
ANY_MACHINE = "any"
"""Where the nights of an academy wait whose data every machine reaches."""


@dataclass(frozen=True)
class FederatedAcademy:
    """One academy of a federation: one workspace, one database, one writer.

    Attributes
    ----------
    name : str
        By which server, roll-up and commands know it; nothing else of the academy is told to the server.
    workspace : Path
        Its folder, as the machines that do its nights see it.
    machines : tuple of str
        Machines that hold its data, in alphabetical order; empty: every machine reaches the folder.
    nightly_at : str
        ``HH:MM``, or ``off``: only rounds sent by hand.
    time_zone : str
        IANA name of the zone in which ``nightly_at`` is read.
    """

    name: str
    workspace: Path
    machines: tuple[str, ...] = ()
    nightly_at: str = "02:30"
    time_zone: str = "UTC"

    @property
    def queue(self) -> str:
        """Name of the queue in which its nights wait."""
        return "+".join(self.machines) or ANY_MACHINE

    def is_done_by(self, machine: str) -> bool:
        """Whether a machine of that name may do its nights."""
        return not self.machines or machine in self.machines


@dataclass(frozen=True)
class FederationServer:
    """Where the federation's server answers, and where it keeps what it knows.

    Attributes
    ----------
    address : str
        By which commands and workers call it: ``http://`` or ``https://``, host, port.
    listen : str
        Address of the machine at which it listens, with a port where that is not the one of ``address``.
    database_url : str
        ``postgresql://user@host/name``; empty: a file in the federation's folder, which is enough for a dozen academies.
    tls_cert, tls_key : Path or None
        Certificate and its key (PEM).
    plain_http : bool
        Whether it may listen beyond its own machine without TLS, because the network itself is encrypted.
    trusted_ca : Path or None
        Certificates (PEM) by which workers know the server, where the machine's own do not suffice.
    """

    address: str = "http://127.0.0.1:8017"
    listen: str = "127.0.0.1"
    database_url: str = ""
    tls_cert: Path | None = None
    tls_key: Path | None = None
    plain_http: bool = False
    trusted_ca: Path | None = None


@dataclass(frozen=True)
class FederationReport:
    """When the federation's own pages are written, and in which language and units.

    Attributes
    ----------
    report_at : str
        ``HH:MM`` in the federation's time zone, or ``off``: by hand alone.
    machine : str
        The machine that writes them, into ``site`` of its own copy of the federation's folder.
    language : Language
    speed : SpeedUnit
    length : LengthUnit
    """

    report_at: str = OFF
    machine: str = ""
    language: Language = "en"
    speed: SpeedUnit = "mph"
    length: LengthUnit = "yd"

    @property
    def is_timed(self) -> bool:
        """Whether a machine writes them by itself."""
        return self.report_at != OFF


@dataclass(frozen=True)
class Federation:
    """Everything that federation.toml settles.

    Attributes
    ----------
    name, time_zone : str
    nightly_at : str
        Where an academy names no time of its own.
    academies_per_run : int
        How many academies that share queue and time one run takes, one after the other; each is retried apart. 0: what suits
        their number.
    tries : int
        How often a night is tried that fails in a way that time may mend.
    again_after_min : int
        Minutes until the second try; each further one waits four times as long.
    night_limit_min : int
        Minutes after which a night that is not over is ended; 0: never.
    roll_up : str
        Folder or URL where the academies' shared aggregates lie; empty: none.
    server : FederationServer
    report : FederationReport
    academies : tuple of FederatedAcademy
        In the order of the file.
    """

    name: str
    time_zone: str
    nightly_at: str = "02:30"
    academies_per_run: int = 0
    tries: int = 3
    again_after_min: int = 5
    night_limit_min: int = 120
    roll_up: str = ""
    server: FederationServer = field(default_factory=FederationServer)
    report: FederationReport = field(default_factory=FederationReport)
    academies: tuple[FederatedAcademy, ...] = ()

    @property
    def queues(self) -> tuple[str, ...]:
        """Names of the queues in which nights and the report wait, in alphabetical order."""
        return tuple(sorted({academy.queue for academy in self.academies} | self._report_queues))

    @property
    def machines(self) -> tuple[str, ...]:
        """Names of the machines that academies or the report are for, in alphabetical order."""
        return tuple(sorted({name for academy in self.academies for name in academy.machines} | self._report_queues))

    def queues_of(self, machine: str) -> tuple[str, ...]:
        """Names of the queues that a machine of that name takes work from, in alphabetical order."""
        own = self._report_queues if machine == self.report.machine else set()
        return tuple(sorted({academy.queue for academy in self.done_by(machine)} | own))

    @property
    def _report_queues(self) -> set[str]:
        """The queue of the one machine that writes the report, of its name; none where it is written by hand."""
        return {self.report.machine} if self.report.is_timed else set()

    def done_by(self, machine: str) -> tuple[FederatedAcademy, ...]:
        """The academies whose nights a machine of that name may do."""
        return tuple(academy for academy in self.academies if academy.is_done_by(machine))
