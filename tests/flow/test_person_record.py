"""The export of a person is complete, holds nothing of another person, and says what it cannot hold."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import polars as pl
import pytest

from pipelines.desk.keys import Keys
from pipelines.runs import Night, run_night
from pipelines.stages.player_export import export_player
from schemas.files import KINDS
from tests.flow.planted import ALIAS, ID, TEXTS, planted_academy

if TYPE_CHECKING:
    from pathlib import Path

    from pipelines.workspace import Workspace

NOW = datetime(2026, 1, 22, 21, tzinfo=UTC)


@pytest.fixture(scope="module")
def planted(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    """One person named in every kind of file, with forms sent and notes at the desk, and a file that waits."""
    made = planted_academy(tmp_path_factory.mktemp("record") / "hill")
    run_night(Night(made, NOW))
    keys = Keys(made.desk)
    for player in (ID, "heron"):
        keys.personal_link(player, "player", NOW)
    with closing(sqlite3.connect(made.desk / "keys.sqlite")) as con, con:
        row = "insert into hand_in values (?, ?, 'player', 'checkins', ?, ?, 'x', '2026-01-21T06:00:00')"
        con.execute(row, ("f1", ID, "2026-01-21", "checkins_sent.csv"))
        con.execute(row, ("f2", "heron", "2026-01-20", "checkins_heron.csv"))
    for player in (ID, "heron"):
        (made.desk / "sheets" / player).mkdir(parents=True)
        (made.desk / "sheets" / player / "T1.1.jsonl").write_text(
            json.dumps({"form_id": "a", "felt": f"felt by {player}"}) + "\n"
        )
    (made.inbox / "decisions_waiting.csv").write_text(
        f"flag_id,decided_on,role,decision,player_id\ncccccccc,2026-01-22,coach,ease,{ID}\n"
    )
    return made


@pytest.fixture(scope="module")
def exported(planted: Workspace, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return export_player(planted, ID, tmp_path_factory.mktemp("out") / "export", NOW).folder


def rows(folder: Path, table: str) -> pl.DataFrame:
    return pl.read_csv(folder / f"{table}.csv", infer_schema=False)


def test_every_planted_fact_is_found(exported: Path) -> None:
    told = (exported / "player.json").read_text()
    assert [text for text in TEXTS if text not in told] == []
    tables = "".join(path.read_text() for path in exported.glob("*.csv"))
    assert [text for text in TEXTS if text not in tables] == []
    assert {kind.table for kind in KINDS.values()} - {"shot_sheet"} <= set(json.loads(told))


def test_nothing_of_another_person_is(exported: Path) -> None:
    for path in exported.iterdir():
        told = path.read_text().lower()
        assert [name for name in ("heron", "wren", "h-1", "w-1") if name in told] == [], path.name


def test_a_replaced_row_a_refused_one_and_one_in_a_bundle_are_told_as_they_were_dropped(exported: Path) -> None:
    lines = rows(exported, "original_line")
    (old,) = lines.filter(file="sessions_old.csv").to_dicts()
    assert old["text"] == f"g-1,{ID},2026-01-05T10:00,range,Planted27x,Planted28x,Planted01x"
    assert old["heading"].startswith("session_id,player_id")
    two = lines.filter(file="checkins_all.csv")["text"].to_list()
    assert two == [f'{ID},2026-01-07,Planted12x,1,"two\nlines Planted13x"']
    assert {"plans.zip/plans_zip.csv", "plans_table.parquet", "plans_gz.csv", "plans_more.jsonl"} <= set(lines["file"])
    assert json.loads(lines.filter(file="plans_table.parquet")["text"][0])["phase"] == "Planted24x"


def test_where_it_came_from_and_what_was_refused(exported: Path) -> None:
    received = rows(exported, "receipt")
    of = {row["file"]: row for row in received.to_dicts()}
    assert of["sessions_old.csv"]["n_replaced"] == "1"
    assert (of["rounds_bad.csv"]["status"], of["rounds_bad.csv"]["n_refused"]) == ("held", "2")
    assert received["received_at"].str.starts_with("2026-01-22").all()
    refused = rows(exported, "refusal")
    assert {"Planted07x", "Planted10x", "Planted12x", "Planted21x"} <= set(refused["value"])


def test_decisions_are_found_however_they_were_recorded_and_what_the_desk_keeps_too(exported: Path) -> None:
    assert rows(exported, "decision")["note"].to_list() == ["Planted20x"]
    assert rows(exported, "desk_hand_in")["file"].to_list() == ["checkins_sent.csv"]
    assert rows(exported, "desk_link").height == 1
    assert rows(exported, "desk_note")["text"].str.contains("felt by golfer-a8").all()


def test_what_others_wrote_is_counted_and_not_copied(exported: Path) -> None:
    named = dict(rows(exported, "mention").iter_rows())
    assert named["session.note"] == "1"
    assert "inbox/decisions_waiting.csv" in named
    assert any("letter" in place for place in named)
    assert "played with" not in (exported / "player.json").read_text()


def test_the_columns_are_explained_and_the_page_tells_all_tables(exported: Path) -> None:
    explained = rows(exported, "dictionary")
    page = (exported / "index.html").read_text()
    for name, found in json.loads((exported / "player.json").read_text()).items():
        assert set(found[0]) <= set(explained.filter(table=name)["column"]), name
        assert f"{name}.csv" in page
    assert "Golfer, A8" in page
    assert (exported / "own-page.html").is_file()
    assert "<script" not in page


def test_another_persons_export_lacks_the_first(planted: Workspace, tmp_path: Path) -> None:
    folder = export_player(planted, "heron", tmp_path / "out", NOW).folder
    told = "".join(path.read_text() for path in folder.iterdir())
    assert [text for text in (*TEXTS, ID, ALIAS) if text.lower() in told.lower()] == []
    assert "played with [another person]" in told
