"""The wheel holds everything that the program reads at run time, and nothing else."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest
from hatchling.builders.wheel import WheelBuilder

ROOT = Path(__file__).parents[2]
PACKAGES = ("pipelines", "schemas", "warehouse", "reports")


@pytest.fixture(scope="module")
def shipped(tmp_path_factory: pytest.TempPathFactory) -> set[str]:
    folder = tmp_path_factory.mktemp("wheel")
    (wheel,) = WheelBuilder(str(ROOT)).build(directory=str(folder), versions=["standard"])
    return set(zipfile.ZipFile(wheel).namelist())


@pytest.mark.parametrize("ending", [".py", ".sql", ".csv", ".toml", ".html", ".css", ".js", ".jinja", ".md"])
def test_every_file_of_the_packages_ships(shipped: set[str], ending: str) -> None:
    wanted = {
        str(path.relative_to(ROOT))
        for package in PACKAGES
        for path in (ROOT / package).rglob(f"*{ending}")
        if "__pycache__" not in path.parts
    }
    assert sorted(wanted - shipped) == []


def test_sql_words_templates_and_tables_are_among_them(shipped: set[str]) -> None:
    for one in ("warehouse/migrations/0001_files.sql", "reports/words/en.toml", "reports/words/de.toml", "schemas/DICTIONARY.md"):
        assert one in shipped
    assert any(name.startswith("warehouse/views/marts/") for name in shipped)
    assert any(name.startswith("reports/templates/") for name in shipped)
    assert any(name.startswith("pipelines/measures/tables/") and name.endswith(".csv") for name in shipped)


def test_nothing_but_the_packages_and_their_description_ships(shipped: set[str]) -> None:
    assert {name.split("/")[0] for name in shipped} - set(PACKAGES) == {
        name.split("/")[0] for name in shipped if ".dist-info/" in name
    }


def test_pictures_for_readers_of_the_repository_stay_behind(shipped: set[str]) -> None:
    assert any((ROOT / "reports" / "pictures").glob("*.png"))
    assert [name for name in shipped if name.endswith(".png")] == []
