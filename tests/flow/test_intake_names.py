"""Names and hands are asked of the players that the same night brings, and of one shared file of names."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipelines.stages.intake import take_in
from reports.findings.problems import problem_text
from reports.words import words
from tests.conftest import NOW
from warehouse.connection import open_warehouse

if TYPE_CHECKING:
    from tests.conftest import DropFolder

PLAYERS = "player_id,alias,handed,health_consent\nP7,Heron,right,true\nP8,Plover,left,true\n"
FORM = "name,day,left knee,right knee\nheron,2026-03-14,1,6\nBirdie,2026-03-14,1,6\nSwift,2026-03-14,1,6\n"
MAPPING = (
    'kind = "checkins"\n[columns.player_id]\nfrom = "name"\nnames = true\n[columns.date]\nfrom = "day"\n'
    '[columns.stiff_lead_knee]\nleft = "left knee"\nright = "right knee"\n'
    '[columns.stiff_trail_knee]\nleft = "left knee"\nright = "right knee"\n'
)


def test_names_and_sides_are_told_by_the_players_of_the_same_night(folder: DropFolder) -> None:
    (folder.root / "mappings" / "form.toml").write_text(MAPPING)
    names = folder.root / "mappings" / "names.toml"
    names.write_text('[players]\n"Birdie" = "P8"\n')
    folder.drop("players_a.csv", PLAYERS)
    folder.drop("form/week.csv", FORM)
    form = folder.files()["form/week.csv"]
    assert (form.n_loaded, form.n_quarantined) == (2, 1)
    stiff = "select player_id, stiff_lead_knee, stiff_trail_knee from checkin order by player_id"
    assert folder.rows(stiff).rows() == [("P7", 1.0, 6.0), ("P8", 6.0, 1.0)]
    names.write_text('[players]\n"Birdie" = "P8"\n"Swift" = "P7"\n')
    folder.drop("form/week.csv", FORM.replace("heron,2026-03-14", "heron,2026-03-15"))
    assert folder.files()["form/week.csv"].n_loaded == 3  # a name that was added counts at once


def test_a_file_of_names_that_cannot_be_used_holds_the_file_and_says_why(folder: DropFolder) -> None:
    (folder.root / "mappings" / "form.toml").write_text(MAPPING)
    (folder.root / "mappings" / "names.toml").write_text("Birdie = P8\n")
    folder.drop("players_a.csv", PLAYERS)
    folder.drop("form/week.csv", FORM)
    assert folder.files()["form/week.csv"].reason == "bad_mapping"


def test_what_to_do_about_a_name_of_nobody_is_said_where_it_stands(folder: DropFolder) -> None:
    folder.drop("players_a.csv", PLAYERS)
    (folder.root / "mappings").mkdir(exist_ok=True)
    (folder.root / "mappings" / "bay.toml").write_text(
        'kind = "plans"\n[columns]\nplayer_id = { from = "Wer", names = true }\nweek_starting.from = "Woche"\n'
        'minutes.from = "Minuten"\n'
    )
    folder.drop("bay/a.csv", "Wer,Woche,Minuten\nHeron,2026-03-09,90\nAnna B.,2026-03-09,60\n")
    assert folder.files()["bay/a.csv"].n_loaded == 1
    told = folder.rows("select value, rule, hint from problem order by rule").rows()
    assert [(value, rule) for value, rule, _ in told] == [("Anna B.", "unsafe_id")]
    for _, rule, hint in told:
        assert hint.startswith('Write "Anna B." = "ID" below [players] in mappings/names.toml, with the id of the player;')
        german = problem_text("hint", rule, hint, words("de"))
        assert german.language == "de"
        assert german.text.startswith("In mappings/names.toml unter [players] ")
    (folder.root / "mappings" / "names.toml").write_text('[players]\n"Anna B." = "P8"\n')
    assert folder.files()["bay/a.csv"].n_loaded == 2, "as it says"


def test_a_session_id_made_of_a_name_of_nobody_asks_for_the_name_alone(folder: DropFolder) -> None:
    folder.drop("players_a.csv", PLAYERS)
    (folder.root / "mappings").mkdir(exist_ok=True)
    (folder.root / "mappings" / "bay.toml").write_text(
        'kind = "shots"\n[constants]\nclub = "driver"\n[columns]\nplayer_id = { from = "Who", names = true }\n'
        'session_id.template = "{player_id}-{day}"\nshot_no.number_rows = true\n'
        'struck_at = { from = "At", format = "%Y-%m-%d %H:%M" }\nclub_speed_mps.from = "Speed"\n[session]\nkind = "range"\n'
    )
    rows = "".join(f"{who},2026-03-09 10:0{n},44\n" for n, who in enumerate(("Heron", "Heron", "Anna B.")))
    folder.drop("bay/a.csv", f"Who,At,Speed\n{rows}")
    file = folder.files()["bay/a.csv"]
    assert (file.n_rows, file.n_loaded, file.n_quarantined) == (3, 2, 1)
    told = folder.rows('select "column", value, hint from problem order by line').rows()
    assert [one[:2] for one in told] == [("player_id", "Anna B.")]
    assert "mappings/names.toml" in told[0][2]


def test_a_list_of_names_that_is_gone_takes_nothing_away_and_holds_what_comes(folder: DropFolder) -> None:
    folder.drop("players_a.csv", PLAYERS)
    (folder.root / "mappings" / "bay.toml").write_text(
        'kind = "plans"\n[columns]\nplayer_id = { from = "Wer", names = true }\nweek_starting.from = "Woche"\n'
        'minutes.from = "Minuten"\n'
    )
    names = folder.root / "mappings" / "names.toml"
    names.write_text('[players]\n"Anna B." = "P8"\n')
    folder.drop("bay/a.csv", "Wer,Woche,Minuten\nAnna B.,2026-03-09,60\n")
    folder.run()
    told = names.read_text()
    names.unlink()
    assert folder.run().files == ()
    assert folder.rows("select player_id from plan")["player_id"].to_list() == ["P8"]
    folder.drop("bay/b.csv", "Wer,Woche,Minuten\nAnna B.,2026-03-16,60\n")
    held = folder.files()["bay/b.csv"]
    assert (held.status, held.reason) == ("held", "bad_mapping")
    hint = folder.rows("select hint from problem where severity = 'held'")["hint"].item()
    assert (folder.root / hint.split()[4].rstrip(";")).read_text() == told
    assert problem_text("hint", "bad_mapping", hint, words("de")).language == "de"
    names.write_text("[players]\n")
    found = folder.files()
    assert found["bay/b.csv"].n_quarantined == 1
    names.write_text(told)
    folder.run()
    assert folder.rows("select player_id from plan order by week_starting")["player_id"].to_list() == ["P8", "P8"]
    assert folder.faults() == {}


def test_names_that_a_mapping_does_not_look_up_are_told_as_such(folder: DropFolder) -> None:
    folder.drop("players_a.csv", PLAYERS)
    (folder.root / "mappings" / "bay.toml").write_text(
        'kind = "plans"\n[columns]\nplayer_id.from = "Wer"\nweek_starting.from = "Woche"\nminutes.from = "Minuten"\n'
    )
    folder.drop("bay/a.csv", "Wer,Woche,Minuten\nAnna B.,2026-03-09,60\n")
    folder.run()
    hint = folder.rows("select hint from problem where rule = 'unsafe_id'")["hint"].item()
    assert hint.startswith("Where the export names its players, write names = true below [columns.player_id]")
    assert problem_text("hint", "unsafe_id", hint, words("de")).language == "de"


def test_names_that_players_have_by_now_are_looked_up_again(folder: DropFolder) -> None:
    """The first hour: the device's export comes before the list of players, and nothing has to be dropped twice."""
    (folder.root / "mappings" / "bay.toml").write_text(
        'kind = "plans"\n[columns]\nplayer_id = { from = "Wer", names = true }\nweek_starting.from = "Woche"\n'
        'minutes.from = "Minuten"\n'
    )
    folder.drop("bay/a.csv", "Wer,Woche,Minuten\nAnna  B.,2026-03-09,60\nHeron,2026-03-09,60\nX Y,2026-03-09,60\n")
    assert folder.files()["bay/a.csv"].status == "held"
    folder.drop("players_b.csv", "player_id,alias\nP1,anna b.\nP2,Heron\nP3,X Y\nP4,x y\n")
    found = folder.files()["bay/a.csv"]
    assert (found.status, found.n_loaded, found.note) == (
        "loaded", 2, "what it waited for has come",
    )  # fmt: skip
    assert folder.run().files == (), "a name of two is nobody's, and is not looked up each night"
    assert folder.rows("select player_id from plan order by 1")["player_id"].to_list() == ["P1", "P2"]


def test_progress_counts_files_that_are_read_again(folder: DropFolder) -> None:
    folder.drop("plans_a.csv", "player_id,week_starting,minutes\nP7,2026-03-09,60\n")
    folder.run()
    folder.drop("players_a.csv", PLAYERS)
    told: list[tuple[str, int, int]] = []
    with open_warehouse(folder.root / "academy.duckdb") as con:
        take_in(folder.root, con, folder.academy, NOW, lambda *step: told.append(step))
    assert told
    assert all(done <= total for _, done, total in told)
