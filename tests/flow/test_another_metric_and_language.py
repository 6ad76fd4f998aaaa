"""A quantity to follow and a language are added as DEVELOPERS.md says, and everything that goes by them knows of it."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def _found(module: str, *arguments: str) -> dict[str, object]:
    command = [sys.executable, "-m", f"tests.flow.{module}", *arguments]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    return dict(json.loads(done.stdout.splitlines()[-1]))


def test_a_metric_that_is_added_is_followed_and_said() -> None:
    found = _found("with_another_metric")
    assert found["n_points"] == 40
    assert found["level"] == pytest.approx(1.9, abs=0.6)
    assert "path is up: +" in str(found["said"])
    assert "°" in str(found["said"])


def test_a_language_that_is_added_is_written_on_pages(tmp_path: Path) -> None:
    found = _found("with_another_language", str(tmp_path))
    assert found["changed"] == 1
    assert found["lang"]
    assert found["title"]
    assert found["desk"] == "Nynorsk"
    assert found["known"] == ["en", "de", "nn"]
