"""Which packages the program runs on, under which licences: read from what is installed, as a list and as a bill of materials."""

from __future__ import annotations

import uuid
from dataclasses import dataclass
from functools import cache
from importlib import metadata
from typing import TYPE_CHECKING

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from pipelines.stages.intake.disk import write_whole
from schemas.errors import WorkspaceError

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime
    from pathlib import Path

    from cyclonedx.model.bom import Bom
    from cyclonedx.model.component import Component

OURS = "speedworth"
NOT_STATED = "not stated"
_LONGEST = 60


@dataclass(frozen=True)
class Package:
    """One installed package.

    Attributes
    ----------
    name, version : str
    licence : str
        As the package states it: an SPDX expression, the names of its classifiers, or the first line of its licence file.
    needs : tuple of str
        Names of the installed packages that it needs.
    """

    name: str
    version: str
    licence: str
    needs: tuple[str, ...]


@cache
def installed_packages() -> tuple[Package, ...]:
    """The program itself, first, and every package that it needs, directly or through others, by name."""
    extras: dict[str, set[str]] = {OURS: set()}
    waiting = [OURS]
    needs: dict[str, tuple[str, ...]] = {}
    while waiting:
        name = waiting.pop()
        wanted = list(_needed(name, extras[name]))
        needs[name] = tuple(sorted({one for one, _ in wanted}))
        for one, with_extras in wanted:
            if one not in extras or not with_extras <= extras[one]:
                extras[one] = extras.get(one, set()) | with_extras
                waiting.append(one)
    return tuple(_package(name, needs[name]) for name in sorted(needs, key=lambda name: (name != OURS, name)))


def _needed(name: str, extras: set[str]) -> Iterator[tuple[str, set[str]]]:
    for text in metadata.requires(name) or []:
        wanted = Requirement(text)
        holds = wanted.marker is None or any(wanted.marker.evaluate({"extra": extra}) for extra in ("", *extras))
        if holds and _is_installed(wanted.name):
            yield canonicalize_name(wanted.name), set(wanted.extras)


def _is_installed(name: str) -> bool:
    try:
        metadata.distribution(name)
    except metadata.PackageNotFoundError:
        return False
    return True


def _package(name: str, needs: tuple[str, ...]) -> Package:
    found = metadata.distribution(name)
    return Package(name, found.version, _licence(found), needs)


def _licence(found: metadata.Distribution) -> str:
    told = found.metadata
    classified = [one.rpartition(" :: ")[2] for one in told.get_all("Classifier") or [] if one.startswith("License :: ")]
    expression, stated = (str((told.get_all(name) or [""])[0]).strip() for name in ("License-Expression", "License"))
    if expression:
        return expression
    if stated and "\n" not in stated and len(stated) <= _LONGEST:
        return stated
    return " or ".join(sorted(classified)) or _first_line(found) or NOT_STATED


def _first_line(found: metadata.Distribution) -> str:
    """First line of the licence that a package carries."""
    for path in found.files or ():
        if path.name.upper().startswith(("LICENSE", "LICENCE", "COPYING")):
            lines = [line.strip() for line in path.read_text(encoding="utf-8").splitlines() if line.strip()]
            return lines[0][:_LONGEST] if lines else ""
    return ""


def bill_of_materials(now: datetime) -> str:
    """The packages as CycloneDX JSON, schema 1.6."""
    from cyclonedx.model.bom import Bom  # noqa: PLC0415 - only whoever asks for the bill needs the library
    from cyclonedx.output.json import JsonV1Dot6  # noqa: PLC0415 - the same

    packages = installed_packages()
    told = "|".join(f"{one.name}=={one.version}" for one in packages)
    bill = Bom(serial_number=uuid.uuid5(uuid.NAMESPACE_URL, told))
    bill.metadata.timestamp = now
    parts = {one.name: _component(one) for one in packages}
    bill.metadata.component = parts[OURS]
    bill.components.update(part for name, part in parts.items() if name != OURS)
    _depend(bill, packages, parts)
    return str(JsonV1Dot6(bill).output_as_string(indent=1))


def _component(package: Package) -> Component:
    from cyclonedx.contrib.license.factories import LicenseFactory  # noqa: PLC0415 - the same
    from cyclonedx.model.component import Component, ComponentType  # noqa: PLC0415 - the same
    from packageurl import PackageURL  # noqa: PLC0415 - the same

    licences = [] if package.licence == NOT_STATED else [LicenseFactory().make_from_string(package.licence)]
    return Component(
        name=package.name,
        version=package.version,
        type=ComponentType.APPLICATION if package.name == OURS else ComponentType.LIBRARY,
        licenses=licences,
        purl=None if package.name == OURS else PackageURL("pypi", name=package.name, version=package.version),
        bom_ref=f"{package.name}=={package.version}",
    )


def _depend(bill: Bom, packages: tuple[Package, ...], parts: dict[str, Component]) -> None:
    for package in packages:
        bill.register_dependency(parts[package.name], [parts[name] for name in package.needs])


def write_bill(file: Path, now: datetime) -> None:
    """Write the bill of materials.

    Raises
    ------
    WorkspaceError
        When the file cannot be written.
    """
    text = bill_of_materials(now)
    try:
        write_whole(file, f"{text}\n".encode())
    except OSError as fault:
        raise WorkspaceError(f"{file} cannot be written: {fault.strerror}.", "Choose another file.") from fault
