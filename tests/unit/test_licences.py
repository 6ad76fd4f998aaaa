"""What the program runs on, and its bill of materials, against the schema that the standard's own library carries."""

from __future__ import annotations

import json
import tomllib
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path

import pytest
from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from pipelines.stages.licences import NOT_STATED, Package, bill_of_materials, installed_packages

ROOT = Path(__file__).parents[2]
NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


@pytest.fixture(scope="module")
def packages() -> dict[str, Package]:
    return {one.name: one for one in installed_packages()}


def test_every_dependency_that_is_declared_is_listed_as_it_is_installed(packages: dict[str, Package]) -> None:
    declared = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["dependencies"]
    names = {canonicalize_name(Requirement(one).name) for one in declared}
    assert names <= packages.keys()
    assert all(one.version == metadata.version(name) for name, one in packages.items())
    assert {need for one in packages.values() for need in one.needs} | {"speedworth"} == set(packages)


def test_what_only_the_tests_need_is_left_out_and_an_extra_that_is_asked_for_is_not(packages: dict[str, Package]) -> None:
    assert not {"pytest", "mypy", "hypothesis", "hatchling"} & packages.keys()
    assert "polars" in packages["pandera"].needs


def test_every_package_states_a_licence(packages: dict[str, Package]) -> None:
    assert [name for name, one in packages.items() if one.licence == NOT_STATED] == []
    assert packages["polars"].licence == "MIT License"  # its own text is long: the classifier says it
    assert packages["speedworth"].licence == "MIT"


def test_the_bill_of_materials_keeps_to_the_schema(packages: dict[str, Package]) -> None:
    """CycloneDX 1.6, strict, by the JSON schema that cyclonedx-python-lib carries."""
    text = bill_of_materials(NOON)
    assert JsonStrictValidator(SchemaVersion.V1_6).validate_str(text) is None
    bill = json.loads(text)
    assert bill["metadata"]["component"]["name"] == "speedworth"
    assert {one["name"] for one in bill["components"]} == packages.keys() - {"speedworth"}
    assert all(one["licenses"] and one["purl"].startswith("pkg:pypi/") for one in bill["components"])
    edges = {one["ref"]: len(one.get("dependsOn", ())) for one in bill["dependencies"]}
    assert edges[f"speedworth=={packages['speedworth'].version}"] == len(packages["speedworth"].needs)
    assert bill_of_materials(NOON) == text
