"""A kind of file is added as DEVELOPERS.md says, and everything that goes by kinds knows of it."""

from __future__ import annotations

import json
import subprocess
from pathlib import Path

from tests.broad import BROAD
from tests.flow.conftest import alone

ROOT = Path(__file__).parents[2]


@BROAD
def test_a_kind_that_is_added_goes_through_intake_audit_doctor_export_and_erasure(tmp_path: Path) -> None:
    command = alone("tests.flow.with_another_kind", tmp_path)
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    found = json.loads(done.stdout.splitlines()[-1])
    assert found["files"]["grips.csv"] == [4, 2, 2]  # one too weak to be a grip, one of a player who has not agreed
    assert found["last"] == "2026-05-30"
    assert found["broken"] == []
    assert found["exported"] == ["grip.csv"]
    assert found["left"] == ["P2"]
