"""After consent is withdrawn the next night tells of the player what it told before, but for the body."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

from pipelines.runs import Night, run_night
from warehouse.connection import frame, open_warehouse

if TYPE_CHECKING:
    import polars as pl

    from pipelines.workspace import Workspace

TABLES = ("session_club", "load_day", "modelled_shot", "trend_point", "player_story")


def told(workspace: Workspace) -> dict[str, pl.DataFrame]:
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        return {name: frame(con, f"select * from {name} where player_id = 'heron' order by all") for name in TABLES}


def test_what_is_not_of_the_body_is_computed_anew_by_the_same_night(finished: Workspace) -> None:
    drop = {
        "players_yes.csv": "player_id,alias,health_consent\nheron,Heron,true\n",
        "checkins_a.csv": "player_id,date,fatigue,stiff_lower_back\nheron,2026-01-05,3,2\nheron,2026-01-07,4,3\n",
        # two months later: days that lie before the month stand in stages that pass day by day
        "sessions_m.csv": "session_id,player_id,started_at,kind,swings_full\nh-m,heron,2026-03-05T10:00:00,range,40\n",
    }
    for name, text in drop.items():
        (finished.inbox / name).write_text(text, encoding="utf-8")
    run_night(Night(finished, datetime(2026, 3, 10, 3, tzinfo=UTC)))
    before = told(finished)
    assert all(before[name].height for name in ("session_club", "load_day", "modelled_shot"))
    (finished.inbox / "players_no.csv").write_text("player_id,alias,health_consent\nheron,Heron,false\n", encoding="utf-8")
    run_night(Night(finished, datetime(2026, 3, 11, 3, tzinfo=UTC)))
    after = told(finished)
    with open_warehouse(finished.warehouse, read_only=True) as con:
        assert frame(con, "select * from checkin where player_id = 'heron'").is_empty()
    for name in TABLES:
        assert after[name].height == before[name].height, name
