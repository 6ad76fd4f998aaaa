"""Body reports are kept only of players who agreed: not in the warehouse, not in lists, not in the archive."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import polars as pl

from reports.findings.problems import problem_text
from reports.words import words
from warehouse.consent import AGREED_SINCE

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.conftest import DropFolder

ANSWERS = "player_id,date,fatigue,note\n"
PRIVATE = "my back hurts since Tuesday"


def _everything(folder: DropFolder) -> str:
    """All bytes of the workspace, but for the inbox."""
    texts = [
        path.read_bytes().decode("utf-8", "replace")
        for part in ("archive", "quarantine")
        for path in (folder.root / part).rglob("*")
        if path.is_file()
    ]
    tables = [str(folder.rows(f"select * from {table}").rows()) for table in ("checkin", "problem", "superseded_row")]
    return "\n".join(texts + tables)


def _players(folder: DropFolder, agreed: str, name: str = "players_1.csv") -> None:
    folder.drop(name, f"player_id,alias,health_consent\nP1,Heron,true\nP2,Reed,{agreed}\n")


def test_rows_of_players_who_have_not_agreed_are_kept_nowhere(folder: DropFolder) -> None:
    _players(folder, "false")
    folder.drop(
        "checkins_a.csv",
        f'{ANSWERS}P1,2026-03-14,3,\nP2,2026-03-14,7,"{PRIVATE}\nand more"\nP9,2026-03-14,5,{PRIVATE}\nP1,2026-03-15,2,fine\n',
    )
    file = folder.files()["checkins_a.csv"]
    assert (file.status, file.n_rows, file.n_loaded, file.n_quarantined) == ("loaded", 4, 2, 2)
    kept = _everything(folder)
    assert PRIVATE not in kept
    assert "and more" not in kept
    assert "fine" in kept
    assert folder.rows("select line, value, rule from problem order by 1").rows() == [
        (3, "P2", "no_health_consent"),
        (5, "P9", "unknown_player"),
    ]
    assert folder.rows("select redacted from file where name = 'checkins_a.csv'")["redacted"].to_list() == [True]
    assert folder.rows("select line from checkin order by 1")["line"].to_list() == [2, 6]
    assert folder.faults() == {}


def test_a_row_that_cannot_be_split_is_nobodys_and_is_not_kept(folder: DropFolder) -> None:
    _players(folder, "true")
    folder.drop(
        "checkins_a.csv",
        f"{ANSWERS}P1,2026-03-14,3,\nP2,2026-03-14,7,{PRIVATE},too,many\nP1,2026-03-15,11,{PRIVATE}s\nP1,2026-03-16,3,\n",
    )
    folder.run()
    kept = _everything(folder)
    assert "too,many" not in kept
    assert f"{PRIVATE}s" in kept  # P1 agreed: the bad row may be kept, to be corrected
    assert folder.faults() == {}


def test_other_formats_are_redacted_too(folder: DropFolder) -> None:
    _players(folder, "false")
    out = io.BytesIO()
    pl.DataFrame(
        {"player_id": ["P1", "P2"], "date": ["2026-03-14", "2026-03-14"], "fatigue": [3.0, 7.0], "note": ["ok", PRIVATE]}
    ).write_parquet(out)
    folder.drop("checkins_a.parquet", out.getvalue())
    folder.drop(
        "checkins_b.jsonl",
        f'{{"player_id":"P2","date":"2026-03-15","fatigue":1,"note":"{PRIVATE}"}}\n{{"player_id":"P1","date":"2026-03-15","fatigue":2}}\n',
    )
    folder.run()
    assert PRIVATE not in _everything(folder)
    assert folder.rows("select count(*) as n from checkin")["n"].item() == 2
    assert folder.faults() == {}


def test_withdrawn_consent_takes_rows_out_everywhere(folder: DropFolder) -> None:
    _players(folder, "true")
    folder.drop(
        "checkins_a.csv",
        f"{ANSWERS}P1,2026-03-14,3,\nP2,2026-03-14,7,{PRIVATE}\nP2,2026-03-16,12,{PRIVATE}\nP1,2026-03-15,2,fine\n",
    )
    folder.drop("checkins_b.csv", f"{ANSWERS}P2,2026-03-14,6,{PRIVATE} again\nP1,2026-03-17,2,\n")
    folder.run()
    assert PRIVATE in _everything(folder)
    _players(folder, "false", "players_2.csv")
    folder.run()
    assert PRIVATE not in _everything(folder)
    assert "2026-03-16" not in _everything(folder)
    assert folder.rows("select player_id from checkin")["player_id"].unique().to_list() == ["P1"]
    assert folder.faults() == {}


def test_an_empty_cell_neither_gives_nor_withdraws_consent(folder: DropFolder) -> None:
    _players(folder, "true")
    folder.drop("checkins_a.csv", f"{ANSWERS}P2,2026-03-14,7,\n")
    folder.run()
    folder.drop("players_2.csv", "player_id,alias\nP2,Reed Warbler\n")
    folder.run()
    assert folder.rows("select alias, health_consent from player where player_id = 'P2'").row(0) == ("Reed Warbler", True)
    assert folder.rows("select count(*) as n from checkin")["n"].item() == 1


def test_a_file_dropped_again_after_consent_is_taken_whole(folder: DropFolder) -> None:
    answers = f"{ANSWERS}P1,2026-03-14,3,\nP2,2026-03-14,7,{PRIVATE}\n"
    _players(folder, "false")
    folder.drop("checkins_a.csv", answers)
    folder.run()
    _players(folder, "true", "players_2.csv")
    folder.run()
    assert folder.rows("select count(*) as n from checkin")["n"].item() == 1
    folder.drop("checkins_a.csv", answers)
    assert folder.files()["checkins_a.csv"].n_loaded == 2
    assert folder.rows("select count(*) as n from problem where not closed")["n"].item() == 0
    assert not [name for name in folder.names("archive") if "redacted" in name]
    assert folder.faults() == {}


def test_the_order_of_answers_and_refusal_does_not_matter(new_folder: Callable[[str], DropFolder]) -> None:
    one, other = new_folder("one"), new_folder("other")
    answers = f"{ANSWERS}P1,2026-03-14,3,\nP2,2026-03-14,7,{PRIVATE}\n"
    _players(one, "false")
    one.drop("checkins_a.csv", answers, clock=50)
    one.run()
    _players(other, "true", "players_0.csv")
    other.drop("checkins_a.csv", answers, clock=50)
    other.run()
    _players(other, "false")
    other.run()
    assert one.core() == other.core()
    counts = "select n_rows, n_loaded, n_quarantined, redacted from file where kind = 'checkins'"
    assert one.rows(counts).rows() == other.rows(counts).rows() == [(2, 1, 1, True)]
    assert PRIVATE not in _everything(other)


DECIDED = "flag_id,decided_on,role,decision,note,player_id,flag_kind,region,raised_on\n"


def _decisions(folder: DropFolder) -> None:
    rows = (
        f"f1,2026-03-14,physio,rest,{PRIVATE},P2,body_stiff,lower_back,2026-03-13",
        f"f2,2026-03-14,physio,ease,{PRIVATE},P2,load_jump,,2026-03-13",
        "f3,2026-03-14,coach,watch,slower today,P2,speed_fall,,2026-03-13",
        "f4,2026-03-14,physio,rest,his own,P1,body_stiff,neck,2026-03-13",
        f"f5,2026-03-14,physio,operate,{PRIVATE},P2,body_fatigue,,2026-03-13",
    )
    folder.drop("decisions_1.csv", DECIDED + "".join(f"{row}\n" for row in rows))
    folder.drop("decisions_2.csv", f"{DECIDED}f1,2026-03-14,physio,watch,{PRIVATE},P2,body_stiff,lower_back,2026-03-13\n")
    parquet = io.BytesIO()
    texts = dict.fromkeys(DECIDED.strip().split(","), "")
    pl.DataFrame(
        [texts | {"flag_id": name, "decided_on": "2026-03-15", "role": role, "decision": "watch", "player_id": "P2", "note": note}
         for name, role, note in (("g1", "physio", PRIVATE), ("g2", "coach", "calm"))]
    ).write_parquet(parquet)  # fmt: skip
    folder.drop("decisions_3.parquet", parquet.getvalue())


def test_withdrawn_consent_takes_a_physios_decisions_out_everywhere(folder: DropFolder) -> None:
    _players(folder, "true")
    _decisions(folder)
    folder.run()
    assert PRIVATE in _everything(folder)
    assert folder.rows("select flag_id from decision order by 1")["flag_id"].to_list() == ["f1", "f2", "f3", "f4", "g1", "g2"]
    _players(folder, "false", "players_2.csv")
    folder.run()
    assert folder.rows("select flag_id from decision order by 1")["flag_id"].to_list() == ["f3", "f4", "g2"]
    kept = _everything(folder)
    assert PRIVATE not in kept
    assert "lower_back" not in kept
    assert all(text in kept for text in ("slower today", "his own", "calm"))
    assert folder.faults() == {}
    rows = folder.rows("select n_rows, n_loaded, n_quarantined from file where kind = 'decisions' order by name")
    assert rows.rows() == [(5, 2, 3), (1, 0, 1), (2, 1, 1)]
    _players(folder, "false", "players_3.csv")
    folder.run()
    assert folder.faults() == {}


def test_decisions_dropped_after_consent_was_withdrawn_are_kept_nowhere_from_that_intake_on(folder: DropFolder) -> None:
    _players(folder, "true")
    _decisions(folder)
    folder.run()
    _players(folder, "false", "players_2.csv")
    folder.run()
    rows = (
        f"f1,2026-03-16,physio,rest,{PRIVATE},P2,body_stiff,lower_back,2026-03-13",
        "f3,2026-03-16,coach,watch,faster today,P2,speed_fall,,2026-03-13",
    )
    folder.drop("decisions_4.csv", DECIDED + "".join(f"{row}\n" for row in rows))
    folder.run()
    assert PRIVATE not in _everything(folder)
    assert "faster today" in _everything(folder)
    assert folder.rows("select flag_id from decision order by 1")["flag_id"].to_list() == ["f3", "f3", "f4", "g2"]
    told = folder.rows("select line, value, rule, row_key from problem join file using (file_id) where name like 'decisions_4%'")
    assert told.rows() == [(2, "P2", "no_health_consent", "")]
    assert folder.faults() == {}
    _players(folder, "true", "players_5.csv")
    folder.drop("decisions_4.csv", DECIDED + "".join(f"{row}\n" for row in rows))
    folder.run()
    assert PRIVATE in _everything(folder)


def test_consent_that_is_given_again_names_the_files_to_drop_anew(folder: DropFolder) -> None:
    """Taken out, refused, and of somebody who was not known yet: nothing of it was kept, so only the files bring it."""
    _players(folder, "true")
    folder.drop("checkins_a.csv", f"{ANSWERS}P2,2026-03-14,7,{PRIVATE}\nP1,2026-03-14,3,\n")
    folder.run()
    _players(folder, "false", "players_2.csv")
    assert folder.run().to_drop_again == ()
    folder.drop("checkins_b.csv", f"{ANSWERS}P2,2026-03-15,7,{PRIVATE}\nP3,2026-03-15,7,\nP1,2026-03-15,3,\n")
    folder.drop("checkins_c.csv", f"{ANSWERS}P1,2026-03-16,3,\n")
    folder.run()
    hint = "select hint from problem where value = 'P2' order by file_id"
    before = folder.rows(hint)
    _players(folder, "true", "players_3.csv")
    told = folder.run()
    assert told.to_drop_again == (("checkins_a.csv", "P2"), ("checkins_b.csv", "P2"))
    assert set(folder.rows(hint)["hint"]) == {AGREED_SINCE}
    assert before["hint"].n_unique() == 2
    assert problem_text("hint", "no_health_consent", AGREED_SINCE, words("de")).language == "de"
    lists = [path.read_text() for path in (folder.root / "quarantine").glob("checkins_[ab]*.problems.csv")]
    assert len(lists) == 2
    assert all("agreed by now" in text for text in lists)
    assert folder.run().to_drop_again == (), "it is said once"
    folder.drop("players_4.csv", "player_id,alias,health_consent\nP3,Ibis,true\n")
    assert folder.run().to_drop_again == (("checkins_b.csv", "P3"),)
    folder.drop("checkins_a.csv", f"{ANSWERS}P2,2026-03-14,7,{PRIVATE}\nP1,2026-03-14,3,\n")
    assert folder.files()["checkins_a.csv"].n_loaded == 2
    _players(folder, "false", "players_5.csv")
    assert folder.run().to_drop_again == ()
    assert AGREED_SINCE not in set(folder.rows(hint)["hint"])
    assert PRIVATE not in _everything(folder)
    assert folder.faults() == {}
