"""Takes files of a kind that is added at run time through intake, audit, doctor, export and erasure; run by a test.

Argument: an empty folder. Prints what was found, as JSON.
"""

from __future__ import annotations

import json
import sys
from datetime import UTC, datetime
from pathlib import Path
from types import MappingProxyType

from schemas import files
from schemas.fields import FIELDS, Field
from schemas.files.kind import FileColumn, FileKind, Reference

GRIP = Field("grip_n", "number", "N", "Grip strength of the lead hand.", "an invented quantity", low=50.0, high=1200.0)
GRIPS = FileKind(
    name="grips",
    table="grip",
    title="One measurement of grip strength.",
    columns=(
        FileColumn("player_id", FIELDS["player_id"], required=True),
        FileColumn("date", FIELDS["date"], required=True),
        FileColumn("grip_n", GRIP, required=True),
    ),
    key=("player_id", "date"),
    replaces=("player_id", "date"),
    references=(Reference("player_id", "players", "unknown_player"),),
    body=True,
    day="date",
)
files.KINDS = MappingProxyType({**files.KINDS, GRIPS.name: GRIPS})

from pipelines.runs import Night, run_night  # noqa: E402 - only now do tables and rules know of the kind
from pipelines.stages.doctor import examine  # noqa: E402
from pipelines.stages.player_erasure import erase_player  # noqa: E402
from pipelines.stages.player_export import export_player  # noqa: E402
from pipelines.workspace import create_workspace  # noqa: E402
from warehouse import migrate  # noqa: E402
from warehouse.connection import frame, open_warehouse  # noqa: E402
from warehouse.night import last_known_day  # noqa: E402

known = migrate.migrations()
table = migrate.Script(
    "9999_grip", "create table grip (player_id varchar, date date, grip_n double, file_id varchar, line bigint);"
)
migrate.migrations = lambda: (*known, table)  # type: ignore[assignment]

NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)


def main(folder: Path) -> dict[str, object]:
    workspace = create_workspace(folder / "lakeside")
    (workspace.inbox / "players.csv").write_text("player_id,alias,health_consent\nP1,Heron,true\nP2,Wren,true\nP3,Rail,false\n")
    rows = "P1,2026-05-30,410\nP2,2026-05-30,380\nP3,2026-05-30,300\nP1,2026-05-30,9\n"
    (workspace.inbox / "grips.csv").write_text("player_id,date,grip_n\n" + rows)
    outcome = {
        file.name: (file.n_rows, file.n_loaded, file.n_quarantined) for file in run_night(Night(workspace, NOW)).intake.files
    }
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        last = str(last_known_day(con, NOW.date()))
    broken = [finding.about for finding in examine(workspace) if finding.state == "broken"]
    export_player(workspace, "P1", folder / "export", NOW)
    exported = sorted(path.name for path in (folder / "export").rglob("*grip*"))
    erase_player(workspace, "P1", NOW)
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        left = frame(con, "select player_id from grip order by player_id")["player_id"].to_list()
    still_broken = [finding.about for finding in examine(workspace) if finding.state == "broken"]
    return {"files": outcome, "last": last, "broken": broken + still_broken, "exported": exported, "left": left}


if __name__ == "__main__":
    print(json.dumps(main(Path(sys.argv[1]))))  # noqa: T201 - the test reads it
