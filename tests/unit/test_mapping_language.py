"""What a mapping can say beyond plain columns: each key in its right use, and each way to get it wrong."""

from __future__ import annotations

import io
import json
from pathlib import Path

import polars as pl
import pytest
import xlsxwriter

from pipelines.stages.intake.cast import typed
from pipelines.stages.intake.mapped import mapped_cells
from pipelines.stages.intake.mapping import parsed_mapping
from pipelines.stages.intake.mapping_keys import keys_text
from pipelines.stages.intake.people import NOBODY, People, names_in, people_of
from pipelines.stages.intake.table import Cells, Unread
from schemas.errors import SettingsError
from schemas.files import KINDS
from schemas.units import UNITS

CHECKINS = 'kind = "checkins"\n{top}\n[columns.player_id]\nfrom = "who"\n[columns.date]\nfrom = "day"\n{rest}'
SHOTS = (
    'kind = "shots"\n{top}\n[constants]\nplayer_id = "P1"\nclub = "driver"\n'
    '[columns.session_id]\ntemplate = "S"\n[columns.shot_no]\nnumber_rows = true\n{rest}'
)
STRUCK = '[columns.struck_at]\nfrom = "t"\n'
PEOPLE = People({"anna berg": "P1"}, {"P1": "right", "P2": "left"})


def _read(text: str, data: bytes, ending: str = ".csv", people: People = NOBODY) -> Cells | Unread:
    return mapped_cells(parsed_mapping("bay", text), f"a{ending}", ending, data, people)


def _cells(text: str, data: bytes, ending: str = ".csv", people: People = NOBODY) -> pl.DataFrame:
    read = _read(text, data, ending, people)
    assert isinstance(read, Cells), read
    return read.rows


def _answers(rest: str, lines: str, top: str = "", people: People = NOBODY) -> pl.DataFrame:
    return _cells(CHECKINS.format(top=top, rest=rest), lines.encode(), people=people)


def _fault(text: str) -> str:
    with pytest.raises(SettingsError) as fault:
        parsed_mapping("bay", text)
    assert "\n" not in str(fault.value)
    return str(fault.value)


def test_two_lines_of_header_are_joined_and_a_groups_name_goes_on() -> None:
    lines = "who,day,Body,,Mood\n,,Tired,Sore,\nP1,2026-03-14,3,4,5\n"
    rest = '[columns.fatigue]\nfrom = "Body Tired"\n[columns.soreness]\nfrom = "Body Sore"\n[columns.stress]\nfrom = "Mood"'
    row = _answers(rest, lines, "header_lines = 2").row(0, named=True)
    assert (row["player_id"], row["fatigue"], row["soreness"], row["stress"]) == ("P1", "3.0", "4.0", "5.0")


def test_a_file_without_header_is_read_by_position() -> None:
    text = (
        'kind = "checkins"\nheader_lines = 0\n[columns.player_id]\nposition = 1\n[columns.date]\nfrom = "column 2"\n'
        "[columns.fatigue]\nposition = 3\n"
    )
    read = _read(text, b"P1,2026-03-14,3\nP2,2026-03-14,4\n")
    assert isinstance(read, Cells)
    assert read.rows["fatigue"].to_list() == ["3.0", "4.0"]
    assert list(read.lines) == [1, 2]


def test_names_that_stand_twice_are_numbered_and_never_guessed() -> None:
    lines = b"who,day,Pain,Pain\nP1,2026-03-14,3,4\n"
    second = CHECKINS.format(top="", rest='[columns.soreness]\nfrom = "Pain (2)"')
    assert _cells(second, lines)["soreness"].item() == "4.0"
    by_place = CHECKINS.format(top="", rest="[columns.soreness]\nposition = 4")
    assert _cells(by_place, lines)["soreness"].item() == "4.0"
    either = _read(CHECKINS.format(top="", rest='[columns.soreness]\nfrom = "Pain"'), lines)
    assert isinstance(either, Unread)
    assert (either.rule, either.column) == ("duplicate_header", "Pain")
    assert "Pain (1)" in either.hint


def test_a_sheet_may_have_two_lines_of_header_and_a_name_twice() -> None:
    out = io.BytesIO()
    with xlsxwriter.Workbook(out, {"in_memory": True}) as book:
        sheet = book.add_worksheet()
        for at, row in enumerate([["who", "day", "Body", ""], ["", "", "Score", "Score"], ["P1", "2026-03-14", 3, 4]]):
            sheet.write_row(at, 0, row)
    text = CHECKINS.format(top="header_lines = 2", rest='[columns.soreness]\nfrom = "Body Score (2)"')
    assert _cells(text, out.getvalue(), ".xlsx")["soreness"].item() == "4.0"


def test_nested_json_gives_dotted_fields_and_the_list_gives_the_rows() -> None:
    session = {"at": "2026-03-14T10:00:00", "shots": [{"speed": {"ball": 60.5}, "tags": [1, 2]}, {"speed": {"ball": 61.0}}]}
    text = SHOTS.format(
        top='rows = "session.shots"',
        rest='[columns.struck_at]\nfrom = "session.at"\n[columns.ball_speed_mps]\nfrom = "session.shots.speed.ball"',
    )
    whole = _read(text, json.dumps({"session": session}, indent=1).encode(), ".json")
    assert isinstance(whole, Cells)
    assert whole.rows["ball_speed_mps"].to_list() == ["60.5", "61.0"]
    assert whole.rows["struck_at"].to_list() == ["2026-03-14T10:00:00"] * 2
    assert "session.shots.tags" in whole.header  # left out, and said so: it is no column of ours
    lines = _cells(text, (json.dumps({"session": session}) + "\n").encode() * 2, ".jsonl")
    assert lines.height == 4


def test_a_way_to_no_list_says_so() -> None:
    text = SHOTS.format(top='rows = "hits"', rest=STRUCK)
    read = _read(text, b'{"shots": [{"t": 1}]}', ".json")
    assert isinstance(read, Unread)
    assert "rows = 'hits'" in read.hint


def test_json_that_is_no_object_is_a_fault_of_its_row_alone() -> None:
    text = SHOTS.format(top="", rest=STRUCK)
    read = _read(text, b'[{"t": "2026-03-14T10:00:00"}, 5, {"t": "\\ud83d"}]', ".json")
    assert isinstance(read, Cells)
    assert read.rows.height == 1
    assert [(fault.line, fault.rule) for fault in read.faults] == [(2, "not_json"), (3, "bad_encoding")]


def test_nested_parquet_is_read_like_nested_json() -> None:
    frame = pl.DataFrame(
        {"t": ["2026-03-14T10:00:00", "2026-03-14T11:00:00"], "hits": [[{"v": {"ball": 60.0}}, {"v": {"ball": 61.0}}], []]}
    )
    out = io.BytesIO()
    frame.write_parquet(out)
    text = SHOTS.format(top='rows = "hits"', rest=STRUCK + '[columns.ball_speed_mps]\nfrom = "hits.v.ball"')
    assert _cells(text, out.getvalue(), ".parquet")["ball_speed_mps"].to_list() == ["60.0", "61.0"]
    flat = _read(SHOTS.format(top="", rest=STRUCK), out.getvalue(), ".parquet")
    assert isinstance(flat, Cells)
    assert "hits" in flat.header  # the list is left out, and named
    lost = _read(SHOTS.format(top='rows = "balls"', rest=STRUCK), out.getvalue(), ".parquet")
    assert isinstance(lost, Unread)
    assert "rows = 'balls'" in lost.value


LONG = (
    'kind = "problems"\n[long]\nname = "what"\nvalue = ["hard", "pain"]\n[long.rows]\n"neck" = ["Neck A", "Neck B"]\n'
    '"right knee" = ["Knee A", "Knee B"]\n[columns.player_id]\nfrom = "who"\n[columns.week_ending]\nfrom = "week"\n'
    '[columns.region]\nfrom = "what"\nwords = { "right knee" = "right_knee" }\nby_hand = true\n'
    '[columns.participation]\nfrom = "hard"\n[columns.symptoms]\nfrom = "pain"\n'
)


def test_a_line_becomes_a_row_for_each_region_that_was_answered_and_the_hand_tells_the_side() -> None:
    lines = "who,week,Neck A,Neck B,Knee A,Knee B\nP1,2026-03-15,1,2,0,\nP2,2026-03-15,,,3,3\nP3,2026-03-15,,,1,1\n"
    read = _read(LONG, lines.encode(), people=PEOPLE)
    assert isinstance(read, Cells)
    assert read.rows.select("player_id", "region", "participation", "symptoms").rows() == [
        ("P1", "neck", "1.0", "2.0"),
        ("P1", "trail_knee", "0.0", None),
        ("P2", "lead_knee", "3.0", "3.0"),
        ("P3", "? right_knee", "1.0", "1.0"),  # nobody knows this player's hand: refused, not guessed
    ]
    assert list(read.lines) == [2, 2, 3, 4]
    assert not set(read.header) - set(KINDS["problems"].names)


def test_left_and_right_columns_become_lead_and_trail_by_the_hand() -> None:
    sides = 'left = "L knee"\nright = "R knee"\n'
    rest = f"[columns.stiff_lead_knee]\n{sides}[columns.stiff_trail_knee]\n{sides}"
    lines = "who,day,L knee,R knee\nP1,2026-03-14,1,2\nP2,2026-03-14,1,2\nP3,2026-03-14,1,\n"
    got = _answers(rest, lines, people=PEOPLE)
    assert got.select("stiff_lead_knee", "stiff_trail_knee").rows()[:2] == [("1.0", "2.0"), ("2.0", "1.0")]
    refused = got["stiff_lead_knee"][2]
    assert refused.startswith("? ")
    assert "left 1, right empty" in refused
    _, faults = typed(KINDS["checkins"], got, "UTC")
    assert faults["column"].to_list() == ["stiff_lead_knee", "stiff_trail_knee"]


def test_the_side_of_a_mobility_test_is_told_by_the_hand() -> None:
    text = (
        'kind = "mobility"\n[columns.player_id]\nfrom = "who"\n[columns.date]\nfrom = "day"\n[columns.test]\nfrom = "test"\n'
        '[columns.value_deg]\nfrom = "v"\n'
        '[columns.side]\nfrom = "side"\nby_hand = true\nwords = { "L" = "left", "re" = "right" }\n'
    )
    lines = "who,day,test,v,side\nP1,2026-03-14,other,30,L\nP2,2026-03-14,other,30,re\nP1,2026-03-15,other,3,both\n"
    assert _cells(text, lines.encode(), people=PEOPLE)["side"].to_list() == ["lead", "lead", "both"]


def test_names_become_ids_and_what_is_no_name_is_refused(tmp_path: Path) -> None:
    (tmp_path / "names.toml").write_text('[players]\n"Bo  Lind" = "P2"\n')
    known = [("P1", "Anna Berg", "right"), ("P3", "Kim", None), ("P4", "kim", None)]
    people = people_of(names_in(tmp_path / "names.toml"), known)
    text = CHECKINS.format(top="", rest='names = true\n[columns.fatigue]\nfrom = "f"').replace(
        'from = "day"\nnames = true', 'from = "day"'
    )
    text = text.replace('from = "who"', 'from = "who"\nnames = true')
    cells = ["anna  BERG", "Bo Lind", "P7", "Kim", "Nobody Known"]
    got = _read(text, ("who,day,f\n" + "".join(f"{cell},2026-03-14,1\n" for cell in cells)).encode(), people=people)
    assert isinstance(got, Cells)
    assert got.rows["player_id"].to_list() == ["P1", "P2", "P7", "Kim", "? Nobody Known"]  # two players are Kim: no guess
    assert "names.toml" in got.origin["player_id"]


@pytest.mark.parametrize("text", ["players = 3", '[people]\n"A" = "P1"', "[players]\nA = 1", "[players"])
def test_a_file_of_names_that_cannot_be_used_says_so(tmp_path: Path, text: str) -> None:
    (tmp_path / "names.toml").write_text(text)
    with pytest.raises(SettingsError, match=r"names\.toml"):
        names_in(tmp_path / "names.toml")


def test_without_a_file_of_names_there_are_none(tmp_path: Path) -> None:
    assert names_in(tmp_path / "names.toml") == {}


@pytest.mark.parametrize(
    ("rule", "cell", "wanted"),
    [
        ("cut = 'about (\\d+)'", "about 7 or so", "7.0"),
        ("cut = 'about (\\d+)'", "seven", "? seven"),
        ('duration = "h:m"', "7h10", "7.1667"),
        ('duration = "h:m"', "7:30", "7.5"),
        ('duration = "h:m"', "7 h 15 min", "7.25"),
        ('duration = "h:m"', "45 min", "0.75"),  # letters go first
        ('duration = "h:m:s"', "6:30:00", "6.5"),
        ('duration = "h:m"', "7,5 Std", "7.5"),
        ('duration = "h:m"', "7:75", "? 7:75"),
        ('duration = "h:m"', "7", "? 7"),  # seven of what?
        ('duration = "h:m"', "7 moons", "? 7 moons"),
        ('duration = "h:m"', "-7:30", "? -7:30"),
        ('unit = "min"', "450", "7.5"),
    ],
)
def test_hours_are_read_from_text(rule: str, cell: str, wanted: str) -> None:
    got = _answers(f'[columns.sleep_h]\nfrom = "s"\n{rule}', f'who,day,s\nP1,2026-03-14,"{cell}"\n')["sleep_h"].item()
    assert got == wanted or float(got) == pytest.approx(float(wanted), abs=1e-4)


@pytest.mark.parametrize(
    ("scale", "cell", "wanted"),
    [("[1, 5]", "1", 0.0), ("[1, 5]", "4", 7.5), ("[5, 1]", "4", 2.5), ("[10, 0]", "10", 0.0), ("[0, 100]", "35", 3.5)],
)
def test_ratings_are_rescaled_with_their_direction(scale: str, cell: str, wanted: float) -> None:
    got = _answers(f'[columns.fatigue]\nfrom = "f"\nscale = {scale}', f"who,day,f\nP1,2026-03-14,{cell}\n")
    assert float(got["fatigue"].item()) == pytest.approx(wanted)


def test_a_rating_outside_its_scale_stays_outside_our_limits() -> None:
    got = _answers('[columns.fatigue]\nfrom = "f"\nscale = [1, 5]', "who,day,f\nP1,2026-03-14,6\nP1,2026-03-15,0\n")
    assert [float(cell) for cell in got["fatigue"]] == [12.5, -2.5]


@pytest.mark.parametrize(
    ("form", "cell", "wanted"),
    [
        ("epoch s", "1773482400", "2026-03-14T10:00:00Z"),
        ("epoch ms", "1773482400500", "2026-03-14T10:00:00.500Z"),
        ("epoch s", "soon", "? soon"),
        ("epoch s", "1e300", "? 1e300"),
        ("%d/%m/%Y %I:%M:%S %p", "14/03/2026 10:00:00 p. m.", "2026-03-14T22:00:00"),
        ("%d/%m/%Y %I:%M:%S %p", "14/03/2026 10:00:00 a.m.", "2026-03-14T10:00:00"),
    ],
)
def test_times_are_read_as_counted_and_by_the_twelve_hour_clock(form: str, cell: str, wanted: str) -> None:
    text = SHOTS.format(top="", rest=f'{STRUCK}format = "{form}"\n[columns.carry_m]\nfrom = "c"')
    assert _cells(text, f"t,c\n{cell},200\n".encode())["struck_at"].item() == wanted


@pytest.mark.parametrize(
    ("top", "template", "wanted"),
    [
        ("", "{player}-{struck_at:%Y%m%d}", "P9-20260315"),
        ('time_zone = "Asia/Tokyo"', "{player}-{day:%Y%m%d}", "P9-20260315"),
        ("", "{struck_at:%H%M}_{no}", "0030_4"),
        ("", "{player}-{nothing}", None),
    ],
)
def test_an_id_is_printed_from_any_column(top: str, template: str, wanted: str | None) -> None:
    rest = f'{STRUCK}format = "%d.%m.%Y %H:%M"\n'
    text = SHOTS.format(top=top, rest=rest).replace('template = "S"', f'template = "{template}"')
    got = _cells(text, b"t,player,no\n15.03.2026 00:30,P9,4\n")
    assert got["session_id"].item() == wanted


def test_two_columns_are_joined_with_and_without_a_blank() -> None:
    for rule, wanted in (('from = ["a", "b"]', "A 1"), ('template = "{a}_{b}"', "A_1")):
        text = CHECKINS.format(top="", rest=f"[columns.note]\n{rule}\n")
        assert _cells(text, b"who,day,a,b\nP1,2026-03-14,A,1\n")["note"].item() == wanted


def test_a_decimal_sign_of_one_column_never_meets_the_thousands_of_the_file() -> None:
    """Each sign alone may be right; together they made fifteen of one and a half."""
    told = _fault(
        SHOTS.format(top='decimal = ","\nthousands = "."', rest=f'{STRUCK}[columns.carry_m]\nfrom = "c"\ndecimal = "."')
    )
    assert ". cannot be the decimal sign of carry_m" in told
    text = SHOTS.format(
        top='decimal = ","\nthousands = "."\ndelimiter = ";"',
        rest=f'{STRUCK}[columns.carry_m]\nfrom = "c"\ndecimal = "."\nthousands = ""',
    )
    assert _cells(text, b"t;c\n2026-03-14 10:00;101.5\n")["carry_m"].item() == "101.5"


BODY = CHECKINS.format(top="", rest="{}")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (CHECKINS.format(top="header_lines = 3", rest=""), "line 2: header_lines must be 0, 1 or 2"),
        (CHECKINS.format(top="rows = 3", rest=""), "line 2: rows must be text"),
        (BODY.format('[columns.fatigue]\nposition = 0'), "fatigue names no column"),
        (BODY.format('[columns.fatigue]\nposition = 1\nfrom = "a"'), "fatigue needs one of"),
        (BODY.format('[columns.stiff_lead_knee]\nleft = "a"'), "stiff_lead_knee needs one of"),
        (BODY.format('[columns.stiff_neck]\nleft = "a"\nright = "b"'), "line 8: stiff_neck is no lead or trail side"),
        (BODY.format('[columns.note]\nfrom = "a"\nby_hand = true'), "line 9: note holds no side of the body"),
        (BODY.format('[columns.note]\nfrom = "a"\nnames = true'), "line 9: note is no player"),
        (BODY.format('[columns.note]\nfrom = "a"\ncut = "(a"'), "line 9: the pattern cannot be used: missing )"),
        (BODY.format("[columns.note]\nfrom = \"a\"\ncut = '(?=a)(b)'"), "line 9: the pattern cannot be used"),
        (BODY.format('[columns.note]\nfrom = "a"\ncut = "b"'), "line 9: the pattern of cut has no group"),
        (BODY.format('[columns.fatigue]\nfrom = "a"\nduration = "h:m"'), "line 9: fatigue is no length of time"),
        (BODY.format('[columns.sleep_h]\nfrom = "a"\nduration = "days"'), "line 9: duration is 'days'"),
        (BODY.format('[columns.sleep_h]\nfrom = "a"\nduration = "h:m"\nunit = "h"'), "line 10: duration says"),
        (BODY.format('[columns.sleep_h]\nfrom = "a"\nscale = [1, 5]'), "line 9: sleep_h is no rating"),
        (BODY.format('[columns.fatigue]\nfrom = "a"\nscale = [1, 1]'), "line 9: scale needs two different numbers"),
        (BODY.format('[columns.fatigue]\nfrom = "a"\nscale = [1]'), "line 9: scale must be a list of two numbers"),
        (BODY.format('[columns.fatigue]\nfrom = "a"\ndecimal = ";"'), "line 9: decimal must be"),
        (BODY.format('[columns.fatigue]\nfrom = "a"\nthousands = "12"'), "line 9: thousands must be one sign"),
        (BODY.format("").replace('from = "day"', 'from = "day"\nformat = "epoch s"'), "line 7: date is a day"),
        (LONG.replace('name = "what"\n', ""), "long needs name, value and [long.rows]"),
        (LONG.replace(', "Neck B"', ""), "line 6: neck has 1 columns, value has 2 words"),
        (LONG.replace('["Neck A", "Neck B"]', "3"), "line 6: neck must be a text or a list of texts"),
        (LONG.replace('value = ["hard", "pain"]', "value = 3"), "line 4: value must be"),
        (LONG.replace('"right_knee" }', '"left_toe" }'), "right knee is to mean 'left_toe'"),
        ('kind = "shots"\nlong = 3', "long must be a table"),
    ],
)  # fmt: skip
def test_each_key_that_is_used_wrongly_says_where_and_why(text: str, told: str) -> None:
    assert told in _fault(text)


def test_a_pattern_that_would_take_forever_elsewhere_is_done_at_once() -> None:
    """Nested repetition: exponential in an engine that goes back, linear in ours."""
    text = CHECKINS.format(top="", rest="[file_name]\npattern = '^(?P<note>(a+)+)$'\n")
    mapping = parsed_mapping("bay", text)
    read = mapped_cells(mapping, "a" * 200 + "!.csv", ".csv", b"who,day\nP1,2026-03-14\n")
    assert isinstance(read, Unread)


def test_the_reference_of_keys_lists_every_unit() -> None:
    assert all(f"`{unit}`" in keys_text() for unit in UNITS)
