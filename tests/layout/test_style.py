"""Size and names of modules, as the house has them."""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
MODULES = sorted(path for package in ("schemas", "warehouse", "pipelines", "reports") for path in (ROOT / package).rglob("*.py"))
SHUNNED = re.compile(r"^(utils?|helpers?|common|base|manager)$|_(utils?|helpers?|manager)$")
SHUNNED_PREFIX = ("process_", "handle_", "get_")


@pytest.mark.parametrize("module", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_module_has_one_subject_and_names_that_say_something(module: Path) -> None:
    text = module.read_text(encoding="utf-8")
    assert len(text.splitlines()) < 400
    assert not SHUNNED.search(module.stem)
    names = [node.name for node in ast.walk(ast.parse(text)) if isinstance(node, ast.FunctionDef | ast.ClassDef)]
    assert [name for name in names if name.lower().lstrip("_").startswith(SHUNNED_PREFIX) or SHUNNED.search(name.lower())] == []


def test_the_top_level_is_the_one_agreed() -> None:
    expected = {
        *("README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "Makefile", "constraints.txt", "pyproject.toml"),
        *("pipelines", "schemas", "reports", "tests", "warehouse"),
    }
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert found - expected - {"build", "dist", "demo-academy"} == set()


def test_no_word_of_one_machine_stands_in_the_repository() -> None:
    pattern = re.compile(r"(?<![\w.])/(?:work|root|tmp|home)/\w")
    tracked = [
        *MODULES,
        *(ROOT / "tests").rglob("*.py"),
        *ROOT.glob("*.md"),
        *(ROOT / "tests").rglob("*.md"),
        ROOT / "Makefile",
        ROOT / "pyproject.toml",
    ]
    found = [str(path.relative_to(ROOT)) for path in tracked if pattern.search(path.read_text(encoding="utf-8"))]
    assert found == []


def test_no_mark_of_a_half_merged_file_is_left() -> None:
    mark = re.compile(r"^(<{7} |>{7} |={7}$)", re.MULTILINE)
    kinds = (".py", ".sql", ".js", ".css", ".html", ".toml", ".md")
    folders = ("schemas", "warehouse", "pipelines", "reports", "tests")
    texts = [path for folder in folders for path in (ROOT / folder).rglob("*") if path.suffix in kinds]
    assert [str(path.relative_to(ROOT)) for path in texts if mark.search(path.read_text(encoding="utf-8"))] == []
