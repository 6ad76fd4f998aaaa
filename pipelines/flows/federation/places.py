"""Names that the parts of a federation share, and the settings under which each of them lets Prefect work."""

from __future__ import annotations

import os
import socket
import sys
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from pipelines.flows.server import closed_environment, offline_environment

if TYPE_CHECKING:
    from pipelines.federation import FederationFolder
    from schemas.federation import Federation

POOL, FLOW, REPORT_FLOW, ARTIFACT = "speedworth", "federation-nights", "federation-report", "nights"
FOLDER = "SPEEDWORTH_FEDERATION"
"""Environment variable that names the federation's folder for the runs of a worker."""
MACHINE = "SPEEDWORTH_MACHINE"
"""Environment variable that names the machine for the runs of a worker."""
HEARTBEAT_S = 30
"""Every so many seconds a run says that it lives; Prefect allows no less."""
LOST_AFTER_S = 75
"""A run that has not said so for this long is lost: its worker or its machine is gone."""
NEVER_BEGUN_S = 120
"""A run that a worker took, and that has not begun within this time, is lost too."""
MOST_RUNS = 5
"""A run that is lost is begun again until it has been begun this many times; what always kills its worker ends there."""
MOST_HOURS = 6
"""And for no longer than this after it was due: a worker that cannot start any run would else take it for ever."""
ASK_S = 3
"""Every so many seconds a worker asks for runs: each question costs the server as much as ten of a night's rows."""
LEASE_S = 60
"""For how long an academy stays taken after whoever worked on it is gone."""


def limit_of(academy: str) -> str:
    """Name of the limit that lets one run at a time work on an academy."""
    return f"academy-{academy}"


def server_place(federation: Federation) -> tuple[str, int]:
    """Address and port at which the server listens."""
    port = urlsplit(federation.server.address).port
    host, _, own = federation.server.listen.rpartition(":") if federation.server.listen.count(":") == 1 else ("", "", "")
    return (host, int(own)) if host else (federation.server.listen, port or 0)


def api_url(federation: Federation) -> str:
    """Address of the API, as everybody calls it."""
    return f"{federation.server.address.rstrip('/')}/api"


def client_environment(folder: FederationFolder, federation: Federation) -> dict[str, str]:
    """Settings under which Prefect reaches the federation's server, and nobody else."""
    found = {
        **offline_environment(folder.server_home),
        "PREFECT_API_URL": api_url(federation),
        "PREFECT_API_AUTH_STRING": auth_string(folder),
        "PREFECT_CLI_PROMPT": "false",
        # Two minutes in all: a server that is started anew refuses connections, one whose database is started anew says 500.
        "PREFECT_CLIENT_MAX_RETRIES": "6",
        "PREFECT_CLIENT_RETRY_EXTRA_CODES": "500",
    }
    if federation.server.trusted_ca is not None:
        found["PREFECT_API_SSL_CERT_FILE"] = str(federation.server.trusted_ca)
    return found


def auth_string(folder: FederationFolder) -> str:
    """What a request carries so that the server answers it."""
    return f"speedworth:{folder.key()}"


def worker_environment(folder: FederationFolder, federation: Federation, machine: str) -> dict[str, str]:
    """Settings of a worker, which hands them to its runs. What a run prints or finds stays on this machine."""
    return {
        **client_environment(folder, federation),
        "PREFECT_WORKER_QUERY_SECONDS": str(ASK_S),
        "PREFECT_FLOWS_HEARTBEAT_FREQUENCY": str(HEARTBEAT_S),
        "PREFECT_LOGGING_TO_API_ENABLED": "false",
        "PREFECT_RESULTS_PERSIST_BY_DEFAULT": "false",
        # the pool's command says "python": the one that runs this program
        "PATH": os.pathsep.join((str(Path(sys.executable).parent), os.environ.get("PATH", os.defpath))),
        FOLDER: str(folder.root.resolve()),
        MACHINE: machine,
    }


def server_environment(folder: FederationFolder, federation: Federation) -> dict[str, str]:
    """Settings of the server: authentication on, no pages, leases on disk, the database that federation.toml names."""
    found = {
        **client_environment(folder, federation),
        **closed_environment(auth_string(folder), federation.server.address),
        "PREFECT_SERVER_SERVICES_DB_VACUUM_ENABLED": "events,flow_runs",  # nights after 90 days, by Prefect's own rule
        "PREFECT_SERVER_CONCURRENCY_LEASE_STORAGE": "prefect.server.concurrency.lease_storage.filesystem",
    }
    url = federation.server.database_url
    if url:
        found["PREFECT_API_DATABASE_CONNECTION_URL"] = url.replace("postgresql://", "postgresql+asyncpg://", 1)
    return found


def say(line: str) -> None:
    """Tell a line on this machine alone: in the output of its worker."""
    with suppress(OSError):  # the worker that read it may be gone, and the run goes on
        sys.stderr.write(f"{line}\n")
        sys.stderr.flush()


def this_machine() -> str:
    """Name of this machine, without its domain."""
    return socket.gethostname().partition(".")[0]
