"""Drafts beyond shots: other kinds, formats and languages, and the traps in which a draft must not be sure."""

# ruff: noqa: E501 - tables read best with their lines whole
from __future__ import annotations

import io
import json
from pathlib import Path

import polars as pl
import pytest
import xlsxwriter

from pipelines.stages.intake.draft import DraftedMapping, Hints, draft_mapping, draft_mappings
from pipelines.stages.intake.draft.lexicon import words
from pipelines.stages.intake.mapping import parsed_mapping
from schemas.errors import IntakeError
from schemas.files import KINDS

LANGUAGES = {"en", "de", "fr", "es", "it", "nl", "pt", "sv", "da", "ja"}


def _draft(folder: Path, text: str | bytes, name: str = "export.csv", hints: Hints | None = None) -> DraftedMapping:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    draft = draft_mapping(path, hints)
    parsed_mapping("draft", draft.text)
    return draft


def _sure(draft: DraftedMapping) -> set[str]:
    return {column.target for column in draft.columns if column.sure}


def _whys(draft: DraftedMapping) -> dict[str, str]:
    return {column.target: column.why for column in draft.columns if not column.sure}


def test_every_word_stands_in_ten_languages() -> None:
    for part in ("header", "kinds"):
        assert all(set(by_language) == LANGUAGES for by_language in words()[part].values())
    for domain in words()["values"].values():
        assert all(set(by_language) == LANGUAGES for by_language in domain.values())


@pytest.mark.parametrize(
    ("kind", "text", "sure"),
    [
        ("players", "Giocatore;Soprannome;Sesso;Mano;Anno di nascita\nP1;Airone;F;sinistra;2009\nP2;Falco;M;destra;2010\n",
         {"player_id", "alias", "sex", "handed", "birth_year"}),
        ("sessions", "Sessie ID;Speler;Begin;Soort;Duur (min)\nS-101;P1;14-03-2026 10:00;range;60\nS-102;P2;15-03-2026 11:00;rust;0\n",
         {"session_id", "player_id", "started_at", "kind", "duration_min"}),
        ("checkins", "Spieler,Datum,Müdigkeit (0-10),Schlaf (h)\nP1,2026-03-14,3,7.5\nP1,2026-03-15,8,8\n",
         {"player_id", "date", "fatigue", "sleep_h"}),
        ("problems", "Joueur;Semaine au;Région;Participation (0-3);Symptômes (0-3)\nP1;15/03/2026;nuque;1;2\nP2;22/03/2026;bas du dos;0;1\n",
         {"player_id", "week_ending", "region", "participation", "symptoms"}),
        ("absences", "選手ID,開始日,終了日,理由,部位\nP1,2026/03/14,2026/03/20,怪我,腰\nP2,2026/03/15,2026/03/18,病気,首\n",
         {"player_id", "began_on", "ended_on", "kind", "region"}),
        ("plans", "Jogador,Início semana,Fase,Swings previstos,Minutos previstos\nP1,2026-03-16,base,120,300\n",
         {"player_id", "week_starting", "phase", "swings_full"}),
        ("mobility", "Spiller;Dato;Test;Side;Vinkel (°)\nP1;14.03.2026;trunk turn;højre;45\nP1;14.03.2026;skulderrotation;venstre;50\n",
         {"player_id", "date", "test", "side", "value_deg"}),
        ("rounds", "Spelare;Speldatum;Hål;Utslag;Fairwayträffar;Pliktslag från utslag;Antal slag totalt\nP1;2026-03-14;18;14;9;1;78\n",
         {"player_id", "played_on", "holes", "tee_shots", "fairways", "penalties", "strokes"}),
        ("decisions", "Flag ID,Decision date,Role,Decision,Note\nF-12,2026-03-14,Coach,watch,ok\n",
         {"flag_id", "decided_on", "role", "decision", "note"}),
        ("trials", "Trial ID,Player,Question,Normal arm,Arms,First day\nT1,P1,grip,normal,normal | strong,2026-03-14\n",
         {"trial_id", "player_id", "question", "normal_arm", "arms", "began_on"}),
    ],
)  # fmt: skip
def test_every_kind_is_drafted_from_its_words(tmp_path: Path, kind: str, text: str, sure: set[str]) -> None:
    draft = _draft(tmp_path, text)
    assert draft.kind == kind
    assert sure <= _sure(draft), _whys(draft)


@pytest.mark.parametrize("kind", KINDS)
def test_our_own_column_names_are_always_understood(tmp_path: Path, kind: str) -> None:
    names = KINDS[kind].names
    draft = _draft(tmp_path, ";".join(names) + "\n" + ";".join("1" for _ in names) + "\n")
    assert draft.kind == kind
    assert {column.sources[0] for column in draft.columns if column.sources} >= set(names) - {
        "started_at",
        "struck_at",
        "session_id",
    }


def test_nested_json_two_header_lines_and_every_sheet_are_found(tmp_path: Path) -> None:
    shots = [{"ball": {"speed": 60.5 + at}, "no": at + 1} for at in range(3)]
    nested = json.dumps({"player": {"id": "P1"}, "shots": shots})
    draft = _draft(tmp_path, nested, "export.json")
    assert draft.kind == "shots"
    assert 'rows = "shots"' in draft.text
    assert 'from = "shots.ball.speed"' in draft.text
    two = _draft(
        tmp_path,
        "Player,Date,Club,,Ball\n,,Speed (mph),Path (°; right +),Speed (mph)\nP1,2026-03-14,101,2.5,150\nP1,2026-03-14,99,-7,148\n",
    )
    assert "header_lines = 2" in two.text
    assert {"club_speed_mps", "path_deg", "ball_speed_mps"} <= _sure(two), _whys(two)
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as book:
        for name, rows in (("March", [["Player", "Ball Speed (mph)"], ["P1", 150], ["P1", 148]]), ("Readme", [["hello"]]),
                           ("Form", [["Player", "Date", "Fatigue (0-10)"], ["P1", "2026-03-14", 3], ["P1", "2026-03-15", 9]])):  # fmt: skip
            sheet = book.add_worksheet(name)
            for at, row in enumerate(rows):
                sheet.write_row(at, 0, row)
    (tmp_path / "book.xlsx").write_bytes(out.getvalue())
    assert [(one.sheet, one.kind) for one in draft_mappings(tmp_path / "book.xlsx")] == [("March", "shots"), ("Form", "checkins")]


def test_parquet_is_drafted_too(tmp_path: Path) -> None:
    pl.DataFrame({"player": ["P1", "P1"], "ball_speed_mph": [150.0, 148.0], "time": [1773482400, 1773482460]}).write_parquet(
        tmp_path / "a.parquet"
    )
    draft = draft_mapping(tmp_path / "a.parquet")
    assert {"ball_speed_mps", "struck_at"} <= _sure(draft), _whys(draft)
    assert 'format = "epoch s"' in draft.text


def test_wide_forms_become_long_or_go_by_the_hand(tmp_path: Path) -> None:
    stiff = _draft(
        tmp_path,
        "Player,Date,Neck stiffness (0-10),Left knee stiffness (0-10),Right knee stiffness (0-10)\nP1,2026-03-14,0,3,7\n",
    )
    assert {"stiff_neck", "stiff_lead_knee", "stiff_trail_knee"} <= _sure(stiff), _whys(stiff)
    turn = _draft(tmp_path, "Spieler;Datum;Innenrotation Hüfte links (°);Innenrotation Hüfte rechts (°)\nP1;2026-03-14;38;41\n")
    assert turn.kind == "mobility"
    assert {"test", "side", "value_deg"} <= _sure(turn), _whys(turn)
    week = _draft(
        tmp_path,
        "Player,Week ending,Neck pain (0-3),Lower back pain (0-3)\nP1,2026-03-15,1,2\nP2,2026-03-15,0,3\n",
        "problems.csv",
    )
    assert week.kind == "problems"
    assert "[long.rows]" in week.text


SHOT = "Player,Date,Ball Speed (mph),{header}\nP1,2026-03-14,150,{one}\nP1,2026-03-14,148,{two}\n"
FORM = "Player,Date,Sleep (h),{header}\nP1,2026-03-14,7,{one}\nP1,2026-03-15,8,{two}\n"


@pytest.mark.parametrize(
    ("text", "target", "why"),
    [
        (SHOT.format(header="Club Speed", one="101", two="99"), "club_speed_mps", "the unit is not written"),
        (SHOT.format(header="Spin (rpm)", one="2.501", two="2.874"), "spin_rpm", "hardly make sense"),
        (SHOT.format(header="Session", one="1", two="2"), "session_id", "may begin anew"),
        (SHOT.format(header="Carry (yd)", one="240", two="231"), "session_id", "a guess"),
        (SHOT.format(header="Carry (target)", one="240", two="231"), "carry_m", "not written"),
        (SHOT.format(header="Offline (toward flag)", one="4", two="7"), "offline_m", "brackets"),
        (FORM.format(header="Fatigue", one="3", two="5"), "fatigue", "scale is not shown"),
        (FORM.format(header="Fatigue (1-5)", one="3", two="5"), "fatigue", "which end"),
        (FORM.format(header="Fatigue (0-7)", one="3", two="9"), "fatigue", "outside"),
        (FORM.format(header="Fatigue (0-10; 10 = zorp)", one="3", two="9"), "fatigue", "not understood"),
        (FORM.format(header="Sleep quality (1-5)", one="3", two="4"), "sleep_trouble", "which end"),
        ("Player,Date,Stress (0-10),Sleep (h)\nP1,03/04/2026,3,7\nP2,05/04/2026,3,8\n", "date", "day and month"),
    ],
)  # fmt: skip
def test_what_is_not_shown_is_never_sure_and_says_why(tmp_path: Path, text: str, target: str, why: str) -> None:
    assert why in _whys(_draft(tmp_path, text)).get(target, "")


@pytest.mark.parametrize(
    ("header", "scale"),
    [
        ("Fatigue (1-5; 1 = none; 5 = worst)", "scale = [1, 5]"),
        ("Fatigue (1-5, 5 = fresh)", "scale = [5, 1]"),
        ("Fatigue (0-10, 10 = none)", "scale = [10, 0]"),
        ("Müdigkeit (1 bis 5, 1 = gar nicht)", "scale = [1, 5]"),
    ],
)
def test_a_scale_of_another_kind_is_turned_as_it_is_shown_and_asks_for_a_look(tmp_path: Path, header: str, scale: str) -> None:
    draft = _draft(tmp_path, FORM.format(header=f'"{header}"', one="3", two="5"))
    assert "another scale" in _whys(draft)["fatigue"]
    assert scale in draft.text


def test_hints_help_where_words_do_not(tmp_path: Path) -> None:
    text = "Zig,Zag,Zoom (mph)\nP1,2026-03-14 10:00,150\nP1,2026-03-14 10:01,148\n"
    with pytest.raises(IntakeError):
        _draft(tmp_path, text)
    hints = Hints("shots", {"player_id": "Zig", "ball_speed_mps": "Zoom (mph)"}, "Zag")
    assert {"player_id", "struck_at", "ball_speed_mps"} <= _sure(_draft(tmp_path, text, hints=hints))
    with pytest.raises(IntakeError, match="no column Whom"):
        _draft(tmp_path, text, hints=Hints("shots", {"player_id": "Whom"}))


def test_names_of_players_are_read_as_names_and_the_draft_says_where_to_list_them(tmp_path: Path) -> None:
    draft = _draft(tmp_path, "Player,Date,Stress (0-10),Sleep (h)\nAnna Berg,2026-03-14,3,7\nBo Lind,2026-03-15,3,8\n")
    player = next(column for column in draft.columns if column.target == "player_id")
    assert (player.sure, player.names) == (True, True)
    assert "list them in mappings/names.toml" in player.why
    assert f"# {player.why}" in draft.text


def test_a_side_is_sure_only_where_the_file_shows_which_is_positive(tmp_path: Path) -> None:
    rows = (
        "Player,Date,Club,Club speed (mph),Path (deg{})\nP1,2026-03-14 10:00,Driver,101,2.5\nP1,2026-03-14 10:01,Driver,99,-7\n"
    )
    assert "path_deg" in _sure(_draft(tmp_path, rows.format("; right +")))
    assert "which side is positive" in _whys(_draft(tmp_path, rows.format("")))["path_deg"]
