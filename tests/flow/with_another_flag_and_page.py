"""Raises a flag and makes a page that are added at run time, as DEVELOPERS.md says; run by a test.

What a maintainer would write into files of the packages stands in ``another_page``. Argument: an empty folder. Prints what was
found, as JSON.
"""

from __future__ import annotations

import json
import shutil
import sys
from datetime import UTC, date, datetime, timedelta
from importlib import resources
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

import polars as pl

import reports.findings
import reports.pages
import schemas.marts
from pipelines.measures.flags import rules
from pipelines.measures.flags.candidates import candidates

if TYPE_CHECKING:
    import duckdb

    from schemas.academy import Academy

OWN = Path(__file__).with_name("another_page")
NOW = datetime(2026, 6, 1, 12, tzinfo=UTC)
GYM_DAYS = 4

OFTEN = rules.Rule(
    "gym_often",
    "days with a gym session",
    "four gym days within a week",
    "no such day for a week",
    "both",
    latch_days=7,
    lapse_days=7,
)
rules.RULES = MappingProxyType({**rules.RULES, OFTEN.kind: OFTEN})  # type: ignore[misc]


def gym_candidates(days: pl.DataFrame) -> pl.DataFrame:
    """A night on which the last seven days had four gym days, from them alone."""
    counted = (
        days.sort("player_id", "on_date").rolling("on_date", period="7d", group_by="player_id").agg(n=pl.len().cast(pl.Int64))
    )
    opens = pl.col("n") >= GYM_DAYS
    said = counted.filter(opens).with_columns(
        kind=pl.lit(OFTEN.kind), opens=opens, holds=opens, certain=True, value=pl.col("n").cast(pl.Float64)
    )
    return candidates(said)


for package, folder in ((schemas.marts, "marts"), (reports.findings, "findings"), (reports.pages, "pages")):
    package.__path__.append(str(OWN / folder))

from pipelines.stages import night_steps  # noqa: E402 - only now do stages and pages know of flag and mart
from warehouse import migrate  # noqa: E402
from warehouse.connection import frame, open_warehouse, transaction  # noqa: E402
from warehouse.flags import flag_rows, replace_candidates  # noqa: E402

_DAYS = "select distinct player_id, on_date from session_day where kind = 'gym' and on_date <= ?"


def measure_gym(con: duckdb.DuckDBPyConnection, _: Academy, as_of: date) -> None:
    """The stage: what the rule says, into the warehouse."""
    with transaction(con):
        replace_candidates(con, (OFTEN.kind,), gym_candidates(frame(con, _DAYS, [as_of])))


flags_at = [name for name, _ in night_steps.MEASURES].index("Raising flags")
night_steps.MEASURES = (
    *night_steps.MEASURES[:flags_at],
    ("Counting gym days", measure_gym),
    *night_steps.MEASURES[flags_at:],
)
known = migrate.views()
mart = migrate.Script("mart_gym_week", (OWN / "mart_gym_week.sql").read_text(encoding="utf-8"))
migrate.views = lambda: migrate.in_order((*known, mart))  # type: ignore[assignment]

from pipelines.runs import Night, run_night  # noqa: E402
from pipelines.workspace import create_workspace  # noqa: E402
from reports import words as texts  # noqa: E402
from reports.findings import flags as flag_texts  # noqa: E402
from schemas.academy import Units  # noqa: E402

flag_texts._KIND_QUANTITY[OFTEN.kind] = "count"


def written(folder: Path) -> None:
    """The words files with the new texts, where the program looks for them."""
    shutil.copytree(str(resources.files(texts)), folder)
    for language in texts.LANGUAGES:
        path = folder / f"{language}.toml"
        text = path.read_text(encoding="utf-8").replace("[todo.coach]\n", '[todo.coach]\ngym_often = "Coach: spread them out."\n')
        path.write_text(text + (OWN / f"{language}.toml").read_text(encoding="utf-8"), encoding="utf-8")
    texts.resources = type("Files", (), {"files": staticmethod(lambda _: folder)})  # type: ignore[attr-defined]


def main(folder: Path) -> dict[str, object]:
    written(folder / "words")
    workspace = create_workspace(folder / "lakeside")
    (workspace.inbox / "players.csv").write_text("player_id,alias\nP1,Heron\nP2,Wren\n")
    last = date(2026, 5, 31)
    days = [("P1", last - timedelta(days=back)) for back in (0, 1, 3, 6)] + [
        ("P2", last - timedelta(days=7 * n)) for n in range(4)
    ]
    rows = [f"S{number},{player},{day}T10:00:00+00:00,gym\n" for number, (player, day) in enumerate(days)]
    (workspace.inbox / "sessions.csv").write_text("session_id,player_id,started_at,kind\n" + "".join(rows))
    run_night(Night(workspace, NOW))
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        flags = flag_rows(con).filter(pl.col("kind") == OFTEN.kind)
    today, page = ((workspace.site / "coach" / name).read_text(encoding="utf-8") for name in ("index.html", "gym.html"))
    return {
        "flags": flags.select("player_id", "raised_on", "level", "value").cast({"raised_on": pl.String}).rows(),
        "today": [said in today for said in ("4 gym days within a week.", "Coach: spread them out.", ">Gym</a>")],
        "german": flag_texts.flag_sentence(flags.row(0, named=True), texts.words("de"), Units()),
        "page": [
            said in page for said in ("Heron was in the gym 4 times in the week from 25 May 2026.", "Wren was in the gym once")
        ],
        "others": sorted(path.parent.name for path in workspace.site.rglob("gym.html")),
    }


if __name__ == "__main__":
    print(json.dumps(main(Path(sys.argv[1]))))  # noqa: T201 - the test reads it
