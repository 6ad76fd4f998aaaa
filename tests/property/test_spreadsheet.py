"""CSV for people runs no formula, and every text comes back as it was."""

from __future__ import annotations

import io
import json

import polars as pl
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from pipelines.stages.intake.batch import native_content
from pipelines.stages.intake.csv_text import plain
from pipelines.stages.intake.lists import csv_text
from pipelines.stages.intake.table import Cells
from schemas.spreadsheet import csv_of, harmless, harmless_text, told, told_text
from tests.conftest import DropFolder

STARTS = "=+-@\t\r\n＝＋－＠"
SIGNS = st.sampled_from([*STARTS, "'", '"', ",", ";", "a", "1", ".", "e", " ", "ä", "|"])
TEXTS = st.text(SIGNS, max_size=8) | st.text(max_size=12).filter(lambda text: text.isprintable())

# What OWASP's page on CSV injection and papers on it use (from memory), and numbers, which stay as they are.
FORMULAS = (
    *("=1+1", "@SUM(A1)", "+cmd|' /C calc'!A0", "-2+3+cmd|' /C calc'!A0", "-3.5,=1"),
    *("\t=1", "\r=1", "＝1", "--1", "+-1", "-1e5x"),
)
NUMBERS = ("-3.5", "+2", "-.5", "1e-5", "-1,5", "-1.234,5", "+49", "-2e+3")


@pytest.mark.parametrize("text", FORMULAS)
def test_a_formula_gets_an_apostrophe(text: str) -> None:
    assert harmless_text(text) == f"'{text}"
    assert harmless(pl.DataFrame({"a": [text]}))["a"].to_list() == [f"'{text}"]


@pytest.mark.parametrize("text", [*NUMBERS, "", "plain", "'quoted'", "a=1", " =1"])
def test_a_number_and_other_text_stay(text: str) -> None:
    assert harmless_text(text) == text
    assert harmless(pl.DataFrame({"a": [text]}))["a"].to_list() == [text]


@settings(max_examples=400, deadline=None)
@given(TEXTS)
@example("''=1")
@example("'-5")
def test_every_text_comes_back_and_none_begins_as_a_formula(text: str) -> None:
    marked = harmless_text(text)
    assert told_text(marked) == text
    assert marked in NUMBERS or marked[:1] not in set(STARTS) or told_text(f"'{marked}") == marked
    frame = harmless(pl.DataFrame({"a": [text, None], "n": [1.5, None]}))
    assert frame["a"].to_list() == [marked, None]
    assert told(frame)["a"].to_list() == [text, None]


@settings(max_examples=150, deadline=None)
@given(st.lists(TEXTS.map(str.strip), min_size=1, max_size=5))
def test_the_intake_reads_tables_and_lists_back_as_they_were(texts: list[str]) -> None:
    """Cells are trimmed, and an empty one is missing: what is left comes back from both writers."""
    rows = [(f"P{at}", text.replace("\r", "") or "x") for at, text in enumerate(texts)]
    frame = pl.DataFrame(rows, schema={"player_id": pl.String, "alias": pl.String}, orient="row")
    for data in (csv_of(frame).encode(), csv_text(frame.columns, rows)):
        content = native_content(".csv", data)
        read = content.rows if isinstance(content, Cells) else pl.read_csv(io.BytesIO(data), infer_schema=False)
        assert [cell.strip() for cell in read["alias"]] == [cell.strip() for cell in frame["alias"]]


def test_marks_are_looked_for_only_where_a_cell_begins() -> None:
    assert plain(b"player_id,alias\np1,O'Hara\np2,it's - so\n") is not None
    assert plain(b"player_id,alias\np1,'=1\n") is None


def test_a_rejected_row_dropped_again_is_what_it_was(folder: DropFolder) -> None:
    """Through the list of rejected rows and back; aliases are as those that came as JSON."""
    notes = ["=1+1", "'=kept", "+49 30", "''@", "-5", "it's"]
    ids = [f"p{at}" for at in range(len(notes))]
    people = [{"player_id": name, "alias": note, "health_consent": True} for name, note in zip(ids, notes, strict=True)]
    folder.drop("players.jsonl", "".join(json.dumps(one) + "\n" for one in people))
    rows = [(name, "no day", "3", note) for name, note in zip(ids, notes, strict=True)]
    folder.drop("checkins.csv", csv_text(("player_id", "date", "fatigue", "note"), rows))
    folder.run()
    (listed,) = (folder.root / "quarantine").glob("*.rows.csv")
    again = listed.read_text()
    shown = [line.rpartition(",")[2] for line in again.splitlines()[1:]]
    assert shown == ["'=1+1", "''=kept", "'+49 30", "'''@", "-5", "it's"]
    folder.drop("checkins_again.csv", again.replace("no day", "2026-03-14"))
    assert folder.files()["checkins_again.csv"].n_loaded == len(notes)
    stored = folder.rows("select alias, note from checkin join player using (player_id) order by player_id")
    assert stored.rows() == [(note, note) for note in notes]
