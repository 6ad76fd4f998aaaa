"""A federation for tests: academies of hand-written files, a server and workers as processes of their own."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path
from typing import TYPE_CHECKING

from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import NameOID

from pipelines.federation import FederationFolder, create_federation, default_federation
from pipelines.stages.audit_log import NIGHT, logged
from pipelines.workspace import Workspace, create_workspace

if TYPE_CHECKING:
    from collections.abc import Sequence

ROOT = Path(__file__).parents[2]
BY_HAND = ROOT / "tests" / "data" / "by_hand"
SETTINGS = '[academy]\nname = "{name}"\ntime_zone = "Europe/Berlin"\n[times]\nweekly_at = "off"\n'
COMMAND = (sys.executable, "-c", "from pipelines.cli.main import run; run()", "federation")


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def small_academy(folder: Path, files: Sequence[str]) -> Workspace:
    made = create_workspace(folder, SETTINGS.format(name=folder.name))
    for name in files:
        shutil.copy(BY_HAND / name, made.inbox)
    return made


@dataclass(frozen=True)
class World:
    """A federation's folder, and how its commands are typed."""

    folder: FederationFolder

    def words(self, *words: str) -> list[str]:
        return [*COMMAND, *words, "-w", str(self.folder.root)]

    def typed(self, *words: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(self.words(*words), capture_output=True, text=True, check=False, cwd=ROOT)

    def started(self, *words: str, **environment: str) -> subprocess.Popen[str]:
        """A part in a process group of its own, as a machine of its own would have it."""
        return subprocess.Popen(
            self.words(*words),
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            cwd=ROOT,
            env=os.environ | environment,
            start_new_session=True,
        )


def federation_world(root: Path, academies: dict[str, Path], database_url: str, **others: int | str) -> World:
    """A folder whose federation.toml lists these academies."""
    made = create_federation(root, "Europe/Berlin")
    listed = "".join(f'[[academies]]\nname = "{name}"\nworkspace = "{folder}"\n' for name, folder in academies.items())
    values = {"nightly_at": "off", "address": f"http://127.0.0.1:{free_port()}", "database_url": database_url} | others
    made.settings.write_text(default_federation("Coast", "Europe/Berlin", listed, **values))
    return World(made)


def certificate(folder: Path) -> dict[str, str]:
    """A certificate of 127.0.0.1 that is its own authority, as three keys of [server]."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "127.0.0.1")])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder(
            name, name, key.public_key(), x509.random_serial_number(), now - timedelta(days=1), now + timedelta(days=1)
        )
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ip_address("127.0.0.1"))]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    (folder / "cert.pem").write_bytes(made.public_bytes(Encoding.PEM))
    (folder / "key.pem").write_bytes(key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption()))
    return {"tls_cert": str(folder / "cert.pem"), "tls_key": str(folder / "key.pem"), "trusted_ca": str(folder / "cert.pem")}


def said(process: subprocess.Popen[str], word: str) -> str:
    """The first line that holds a word."""
    assert process.stdout is not None
    lines = []
    for line in process.stdout:
        lines.append(line)
        if word in line:
            return line
    raise AssertionError("".join(lines))


def nights_of(workspace: Path) -> list[str]:
    """When nights were begun that came to their end."""
    return [str(line.at) for line in logged(Workspace(workspace)) if line.what == NIGHT]
