"""A quantity to follow, a language, a flag and a page are added as DEVELOPERS.md says, and what goes by them knows of it."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

import pytest

from tests.broad import BROAD
from tests.flow.conftest import alone

ROOT = Path(__file__).parents[2]


def _found(module: str, *arguments: str) -> dict[str, object]:
    done = subprocess.run(alone(f"tests.flow.{module}", *arguments), cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    return dict(json.loads(done.stdout.splitlines()[-1]))


def test_a_metric_that_is_added_is_followed_and_said() -> None:
    found = _found("with_another_metric")
    assert found["n_points"] == 40
    assert found["level"] == pytest.approx(1.9, abs=0.6)
    assert "path is up: +" in str(found["said"])
    assert "°" in str(found["said"])


@BROAD
def test_a_language_that_is_added_is_written_on_pages(tmp_path: Path) -> None:
    found = _found("with_another_language", str(tmp_path))
    assert found["changed"] == 1
    assert found["lang"]
    assert found["title"]
    assert found["desk"] == "Nynorsk"
    assert found["known"] == ["en", "de", "nn"]


@BROAD
def test_a_flag_and_a_page_that_are_added_are_raised_and_made(tmp_path: Path) -> None:
    """The flag fires for who had four gym days within a week, not for who had four in four weeks."""
    found = _found("with_another_flag_and_page", str(tmp_path))
    assert found["flags"] == [["P1", "2026-05-31", "alert", 4.0]]
    assert found["today"] == [True, True, True]
    assert found["german"] == "4 Krafttage in einer Woche."
    assert found["page"] == [True, True]
    assert found["others"] == ["coach"]
