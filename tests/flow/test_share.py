"""Sharing with a federation: what lies in its folder, and what a failing folder, an older copy or a second academy meets."""

from __future__ import annotations

import datetime as dt
import json
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import fsspec
import numpy as np
import polars as pl
import pytest

from pipelines.runs import Night, run_night
from pipelines.settings import default_settings
from pipelines.stages.doctor_sharing import sharing_findings
from pipelines.stages.share import share_months
from pipelines.stages.share_ledger import read_ledger
from pipelines.workspace import Workspace
from schemas.academy import Academy, Share
from schemas.core import core_tables
from schemas.shared import SHARED
from schemas.shared_contract import broken_rule
from tests.flow.conftest import NIGHT
from tests.flow.test_take_norms import give, norms
from warehouse.connection import insert_frame, open_warehouse

if TYPE_CHECKING:
    from collections.abc import Iterator

    import duckdb

KEY = b"a secret of at least sixteen bytes"
TODAY, NEXT = dt.date(2026, 3, 9), dt.date(2026, 4, 9)
_EMPTY = {"text": "", "texts": [], "integer": 0, "number": 0.0, "truth": False, "day": TODAY, "instant": None}


def rows(table: str, given: list[dict[str, object]]) -> pl.DataFrame:
    columns = core_tables()[table].columns
    filled = [{one.name: each.get(one.name, _EMPTY[one.kind] if one.required else None) for one in columns} for each in given]
    return pl.DataFrame(filled, schema=core_tables()[table].polars_schema(), orient="row")


def fill(con: duckdb.DuckDBPyConnection) -> None:
    """Twelve players who swing in January and February, six of whom ended a speed block."""
    rng = np.random.default_rng(11)
    players = [f"player-{at:02}" for at in range(12)]
    insert_frame(
        con, "player", rows("player", [{"player_id": one, "alias": one, "sex": "male", "standard": "80"} for one in players])
    )
    points, sessions, phases = [], [], []
    for one in players:
        for month in (1, 2):
            day = dt.date(2026, month, int(rng.integers(2, 27)))
            of = {"player_id": one, "session_id": f"{one}-{month}", "club_group": "driver", "club": "driver", "on_date": day}
            level = 45.0 + 3.0 * float(rng.standard_normal())
            points += [of | {"metric": "club_speed_mps", "level": level}, of | {"metric": "scatter_side_m", "level": 13.0}]
            sessions.append(of | {"session_kind": "range", "device_id": "unit-1", "n_shots": 20, "ball_speed_mps_n": 20})
    for one in players[:6]:
        speeds = {"speed_before_mps": 45.0, "speed_after_mps": 46.0, "speed_change_low_mps": 0.5, "speed_change_high_mps": 1.5}
        span = {"began_on": dt.date(2025, 12, 1), "ended_on": dt.date(2026, 1, 25)}
        phases.append({"player_id": one, "phase": "Speed block", **span, **speeds})
    insert_frame(con, "trend_point", rows("trend_point", points))
    insert_frame(con, "session_club", rows("session_club", sessions))
    insert_frame(con, "phase", rows("phase", phases))


@pytest.fixture
def con(tmp_path: Path, migrated: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    shutil.copy(migrated, tmp_path / "academy.duckdb")
    with open_warehouse(tmp_path / "academy.duckdb") as connection:
        fill(connection)
        yield connection


def academy(folder: Path | str, **more: object) -> Academy:
    agreed = {"levels": True, "speed_blocks": True, "data_quality": True, "first_month": "2026-01"} | more
    return Academy("Lakeside", "UTC", share=Share(str(folder), "lakeside", **agreed), id_key=KEY)  # type: ignore[arg-type]


def files(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def test_months_that_are_over_are_shared_once_each_in_its_place(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    workspace, folder = Workspace(tmp_path), tmp_path / "shared"
    done = share_months(con, workspace, academy(folder), TODAY)
    assert (done.n_months, done.trouble) == (2, "")
    found = files(folder)
    expected = [f"academy=lakeside/month=2026-{month}/{kind}.parquet" for month in ("01", "02") for kind in sorted(SHARED)]
    assert sorted(found) == [*expected, "academy=lakeside/workspace"]
    for path in expected:
        table = SHARED[Path(path).stem]
        assert broken_rule(table, pl.read_parquet(folder / path)) == "", path
    levels = pl.read_parquet(folder / expected[3])
    assert levels.select("n_persons", "sex", "standard", "since_on").row(0) == (12, "male", "80", dt.date(2026, 1, 1))
    assert pl.read_parquet(folder / expected[2]).select("n_persons", "n_blocks").row(0) == (6, 6)
    insert_frame(con, "trend_point", rows("trend_point", [{"player_id": "player-00", "session_id": "late", "club_group": "driver",
        "metric": "club_speed_mps", "on_date": dt.date(2026, 2, 27), "level": 60.0}]))  # fmt: skip
    assert share_months(con, workspace, academy(folder), TODAY).n_months == 0
    assert files(folder) == found


def test_a_month_is_shared_a_week_after_its_end(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    for day, months in ((dt.date(2026, 3, 7), 1), (dt.date(2026, 3, 8), 1)):
        assert share_months(con, Workspace(tmp_path), academy(tmp_path / "shared"), day).n_months == months


def test_sharing_begins_with_the_last_month_and_only_with_what_was_agreed(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    folder = tmp_path / "shared"
    share_months(con, Workspace(tmp_path), academy(folder, first_month="", levels=False, data_quality=False), TODAY)
    assert sorted(files(folder)) == ["academy=lakeside/month=2026-02/speed_block.parquet", "academy=lakeside/workspace"]


def test_nothing_that_is_kept_or_shared_names_anybody(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    folder = tmp_path / "shared"
    share_months(con, Workspace(tmp_path), academy(folder), TODAY)
    kept = (tmp_path / ".shared.json").read_bytes() + b"".join(files(folder).values())
    assert b"player-" not in kept
    assert len(json.loads((tmp_path / ".shared.json").read_bytes())["cohorts"][0]["members"]) == 12


def test_what_a_folder_out_of_reach_kept_waiting_is_written_later(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    blocked = tmp_path / "blocked"
    blocked.write_text("a file where a folder was meant")
    told = share_months(con, Workspace(tmp_path), academy(blocked / "shared"), TODAY)
    assert "blocked" in told.trouble
    assert "cannot be" in told.trouble
    blocked.unlink()
    assert share_months(con, Workspace(tmp_path), academy(blocked / "shared"), TODAY).trouble == ""
    before = files(blocked / "shared")
    (blocked / "shared" / "academy=lakeside" / "month=2026-01" / "level.parquet").unlink()
    assert share_months(con, Workspace(tmp_path), academy(blocked / "shared"), TODAY).n_months == 0
    assert files(blocked / "shared") == before


def test_a_store_that_is_no_folder_is_written_too(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    store = fsspec.filesystem("memory")
    assert share_months(con, Workspace(tmp_path), academy("memory://golf"), TODAY).trouble == ""
    try:
        assert "/golf/academy=lakeside/month=2026-01/level.parquet" in store.find("/golf")
    finally:
        store.rm("/golf", recursive=True)
    told = share_months(con, Workspace(tmp_path), academy("nowhere://golf"), TODAY).trouble
    assert "nowhere" in told


def test_two_academies_under_one_name_do_not_mix(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    folder = tmp_path / "shared"
    share_months(con, Workspace(tmp_path), academy(folder), TODAY)
    before = files(folder)
    (tmp_path / "other").mkdir()
    other = Academy("Seaside", "UTC", share=academy(folder).share, id_key=b"another secret")
    told = share_months(con, Workspace(tmp_path / "other"), other, TODAY)
    assert "Another workspace shares under the name lakeside" in told.trouble
    assert files(folder) == before


def test_after_an_older_backup_everybody_counts_as_told(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    """Nobody knows any more who stood in the sums that were shared since: they are shared again only beside five others."""
    workspace, folder = Workspace(tmp_path), tmp_path / "shared"
    share_months(con, workspace, academy(folder), TODAY)
    workspace.shared.unlink()
    before = files(folder)
    share_months(con, workspace, academy(folder), dt.date(2026, 4, 9))
    assert {path: data for path, data in files(folder).items() if path in before} == before
    (march,) = (data for path, data in files(folder).items() if path.endswith("month=2026-03/level.parquet"))
    assert pl.read_parquet(march).is_empty()
    assert len(read_ledger(workspace.shared).told) == 12


def test_a_ledger_that_cannot_be_read_shares_nothing_and_says_so(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    workspace, folder = Workspace(tmp_path), tmp_path / "shared"
    share_months(con, workspace, academy(folder), TODAY)
    before = files(folder)
    for damaged in (b"{", b"{}", b"[1]", b"\xff"):
        workspace.shared.write_bytes(damaged)
        assert ".shared.json of the workspace cannot be read" in share_months(con, workspace, academy(folder), NEXT).trouble
    assert files(folder) == before
    workspace.settings.write_text(settings_of(folder), encoding="utf-8")
    (told,) = sharing_findings(workspace)
    assert told.state == "broken"


def settings_of(folder: Path) -> str:
    text = default_settings("Lakeside", "UTC").replace('folder = ""', f'folder = "{folder}"')
    return text.replace('academy = ""', 'academy = "lakeside"').replace("levels = false", "levels = true")


def test_doctor_says_what_was_shared_and_what_waits(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    workspace, folder = Workspace(tmp_path), tmp_path / "shared"
    settings = default_settings("Lakeside", "UTC")
    workspace.settings.write_text(settings, encoding="utf-8")
    assert [(one.state, one.says) for one in sharing_findings(workspace)] == [("fine", "nothing is shared with a federation")]
    agreed = settings.replace('folder = ""', f'folder = "{folder}"').replace('academy = ""', 'academy = "lakeside"')
    workspace.settings.write_text(agreed.replace("levels = false", "levels = true"), encoding="utf-8")
    assert "none yet" in sharing_findings(workspace)[0].says
    share_months(con, workspace, academy(folder), TODAY)
    (told,) = sharing_findings(workspace)
    assert (told.state, told.says) == ("fine", "2 months, the last 2026-02; 12 persons in 1 cohorts")
    (folder / "academy=lakeside" / "month=2026-01" / "level.parquet").unlink()
    (told,) = sharing_findings(workspace)
    assert (told.state, told.says.endswith("1 files wait")) == ("look", True)


def test_a_night_shares_takes_norms_and_says_so(finished: Workspace, tmp_path: Path) -> None:
    folder = tmp_path / "shared"
    plain = finished.settings.read_text(encoding="utf-8")
    agreed = plain.replace('folder = ""', f'folder = "{folder}"').replace('academy = ""', 'academy = "lakeside"')
    for key in ("levels", "speed_blocks", "data_quality", "take_norms"):
        agreed = agreed.replace(f"{key} = false", f"{key} = true")
    finished.settings.write_text(agreed, encoding="utf-8")
    give(folder, norms())
    squad = finished.site / "coach" / "squad.html"
    before = squad.read_text(encoding="utf-8")
    first = run_night(Night(finished, NIGHT))
    assert first.remarks == ("Shared with the federation: 1 months, 0 rows.",)
    assert "What is usual in the federation" in squad.read_text(encoding="utf-8")
    again = run_night(Night(finished, NIGHT))
    assert (again.remarks, again.site.n_written) == ((), 0)
    finished.settings.write_text(plain, encoding="utf-8")
    assert run_night(Night(finished, NIGHT)).remarks == ()
    assert squad.read_text(encoding="utf-8") == before


def test_files_let_in_whom_the_folder_lets_in(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    folder = tmp_path / "shared"
    folder.mkdir()
    folder.chmod(0o775)
    share_months(con, Workspace(tmp_path), academy(folder), TODAY)
    made = list(folder.rglob("*"))
    assert {path.stat().st_mode & 0o777 for path in made if path.is_dir()} == {0o775}
    assert {path.stat().st_mode & 0o777 for path in made if path.is_file()} == {0o664}
