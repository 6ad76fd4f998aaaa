"""Mappings: eight invented exports through mappings written by hand and drafted, and faults that name their line."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import polars as pl
import pytest

from pipelines.stages.intake.cast import typed
from pipelines.stages.intake.csv_text import careful
from pipelines.stages.intake.discover import one_file
from pipelines.stages.intake.draft import DraftedMapping, draft_mapping
from pipelines.stages.intake.mapped import mapped_cells
from pipelines.stages.intake.mapping import Mapping, parsed_mapping, read_mapping
from pipelines.stages.intake.mapping_keys import KEYS, keys_text
from pipelines.stages.intake.table import Cells
from schemas.errors import IntakeError, SettingsError
from schemas.files import KINDS

EXPORTS = sorted(path for path in (Path(__file__).parents[1] / "data" / "exports").iterdir() if path.is_dir())
NAMES = [path.name for path in EXPORTS]


def _export(folder: Path) -> Path:
    return next(path for path in folder.iterdir() if path.name not in {"mapping.toml", "expected.csv"})


@cache
def _drafted(folder: Path) -> DraftedMapping:
    return draft_mapping(_export(folder))


def _cells(mapping: Mapping, path: Path) -> Cells:
    content = mapped_cells(mapping, path.name, one_file(path).ending, path.read_bytes())
    assert isinstance(content, Cells), content
    return content


def _values(cells: Cells) -> pl.DataFrame:
    values, faults = typed(KINDS["shots"], cells.rows, "Europe/Berlin")
    assert faults.is_empty()
    return values


def _expected(folder: Path) -> pl.DataFrame:
    content = careful((folder / "expected.csv").read_bytes())
    assert isinstance(content, Cells)
    return _values(content)


def _same(one: pl.DataFrame, other: pl.DataFrame) -> None:
    assert one.height == other.height
    for name in one.columns:
        if one[name].dtype == pl.Float64:
            assert one[name].is_null().equals(other[name].is_null()), name
            assert (one[name] - other[name]).abs().fill_null(0).max() < 1e-9, name  # type: ignore[operator]
        else:
            assert one[name].equals(other[name]), name


def test_there_are_eight_layouts() -> None:
    assert len(EXPORTS) == 8


@pytest.mark.parametrize("folder", EXPORTS, ids=NAMES)
def test_an_export_loads_through_its_mapping(folder: Path) -> None:
    cells = _cells(read_mapping(folder / "mapping.toml"), _export(folder))
    assert cells.faults == ()
    _same(_values(cells), _expected(folder))


@pytest.mark.parametrize("folder", EXPORTS, ids=NAMES)
def test_the_draft_gives_the_same_rows_as_the_mapping_by_hand(folder: Path) -> None:
    by_hand = read_mapping(folder / "mapping.toml")
    drafted = parsed_mapping("draft", _drafted(folder).text)
    _same(_values(_cells(drafted, _export(folder))), _values(_cells(by_hand, _export(folder))))


@pytest.mark.parametrize("folder", EXPORTS, ids=NAMES)
def test_the_draft_is_right_or_unsure(folder: Path) -> None:
    """Nine columns in ten are right; a column that is sure is never wrong: its values are those of the mapping by hand."""
    draft = _drafted(folder)
    expected = _expected(folder)
    wanted = {name for name in expected.columns if expected[name].null_count() < expected.height}
    got = _values(_cells(parsed_mapping("draft", draft.text), _export(folder)))
    right = {
        name
        for name in wanted
        if got[name].cast(pl.String).equals(expected[name].cast(pl.String)) or _close(got[name], expected[name])
    }
    assert len(right) >= 0.9 * len(wanted)
    assert {column.target for column in draft.columns if column.sure} <= right


def _close(one: pl.Series, other: pl.Series) -> bool:
    return one.dtype == pl.Float64 and float((one - other).abs().max() or 0) < 1e-9  # type: ignore[arg-type]


def _draft(tmp_path: Path, text: str, name: str = "export.csv") -> dict[str, tuple[bool, str]]:
    path = tmp_path / name
    path.write_text(text)
    return {column.target: (column.sure, column.unit) for column in draft_mapping(path).columns}


def test_a_speed_without_a_unit_is_guessed_and_never_sure_where_two_would_do(tmp_path: Path) -> None:
    """101 may be a driver's mph or an iron's km/h, 45 a driver's m/s or a junior's mph: only 240 km/h of ball speed is one."""
    fast = _draft(tmp_path, "Club Speed,Ball Speed\n101.2,147.9\n103.4,150.1\n99.8,144.0\n")
    assert fast == fast | {"club_speed_mps": (False, "mph"), "ball_speed_mps": (False, "mph")}
    slow = _draft(tmp_path, "Club Speed,Ball Speed\n45.2,66.1\n46.3,67.0\n44.9,65.0\n")
    assert slow == slow | {"club_speed_mps": (False, ""), "ball_speed_mps": (False, "")}
    between = _draft(tmp_path, "Club Speed,Ball Speed\n62.0,90.5\n63.0,91.0\n61.5,89.5\n")  # a junior's mph, or the longest m/s
    assert not between["club_speed_mps"][0]
    only = _draft(tmp_path, "Club Speed,Ball Speed\n165.2,240.0\n167.0,241.0\n166.0,242.0\n")
    assert only == only | {"club_speed_mps": (True, "km/h"), "ball_speed_mps": (True, "km/h")}


@pytest.mark.parametrize(
    ("text", "target"),
    [
        ("Player,Carry,Ball Speed [m/s]\nP1,210,66\nP1,215,67\n", "carry_m"),  # yards or metres
        ("Date,Time,Ball Speed [m/s]\n03/04/2026,10:00:00,66\n03/05/2026,10:01:00,67\n", "struck_at"),  # April or March
        ("Club,Ball Speed [m/s]\nmy best,66\nthe other,67\nDriver,66\n", "club"),
        ("Offline [m],Ball Speed [m/s]\n12.1 X,66\n3.0 Y,67\n", "offline_m"),  # sides that nobody knows
        ("Target Carry [m],Ball Speed [m/s]\n210,66\n215,67\n", "carry_m"),  # what was aimed at, not what was hit
        ("Ball Speed [m/s],Launch Angle [m/s]\n66,12\n67,13\n", "launch_deg"),
        ("Ball Speed [m/s],Spin [rpm]\n66,99999\n67,88888\n", "spin_rpm"),
    ],
)
def test_what_is_not_beyond_doubt_is_marked_unsure(tmp_path: Path, text: str, target: str) -> None:
    assert _draft(tmp_path, text)[target][0] is False
    assert "# unsure" in draft_mapping(tmp_path / "export.csv").text


def test_names_are_sure_to_be_names_and_it_is_said_where_they_become_ids(tmp_path: Path) -> None:
    assert _draft(tmp_path, "Player,Ball Speed [m/s]\nMary Smith,66\nJohn Doe,67\n")["player_id"][0]
    text = draft_mapping(tmp_path / "export.csv").text
    assert (
        '# these are names: list them in mappings/names.toml, or as aliases of players\nfrom = "Player"\nnames = true\n' in text
    )


def test_a_header_that_nobody_knows_is_left_out_and_named(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text("Zorp,Ball Speed [mph],Quux\n1,140,2\n3,141,4\n")
    draft = draft_mapping(tmp_path / "a.csv")
    assert draft.not_understood == ("Zorp", "Quux")
    assert "# not understood, left out: Zorp, Quux" in draft.text


def test_answers_can_be_drafted_too(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_text(
        "Spieler;Datum;Müdigkeit;Muskelkater;Stress;Schlaf (h)\nP1;14.03.2026;3;2;1;7,5\nP1;15.03.2026;4;2;0;8,0\n"
    )
    draft = draft_mapping(tmp_path / "a.csv")
    mapping = parsed_mapping("draft", draft.text)
    assert mapping.kind == "checkins"
    values, faults = typed(KINDS["checkins"], _cells(mapping, tmp_path / "a.csv").rows, "Europe/Berlin")
    assert faults.is_empty()
    assert values.select("player_id", pl.col("date").cast(pl.String), "fatigue", "soreness", "sleep_h").row(0) == (
        "P1",
        "2026-03-14",
        3,
        2,
        7.5,
    )


@pytest.mark.parametrize("text", ["", "hello\n", "a,b\nc,d\n", "\0\0\0"])
def test_what_is_no_table_is_refused_in_one_line(tmp_path: Path, text: str) -> None:
    (tmp_path / "a.csv").write_text(text)
    with pytest.raises(IntakeError):
        draft_mapping(tmp_path / "a.csv")


BASE = (
    'kind = "shots"\n[constants]\nsession_id = "S"\nplayer_id = "P"\nclub = "driver"\n'
    '[columns.shot_no]\nnumber_rows = true\n[columns.struck_at]\nfrom = "t"\n'
)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("kind = shots", "line 1"),
        ('kind = "swings"', "line 1: kind is 'swings'"),
        ('delimiter = ";"', "kind is missing"),
        ('kind = "shots"\ncolour = "red"', "line 2: unknown key colour"),
        ('kind = "shots"\nskip_lines = "two"', "line 2: skip_lines must be a whole number"),
        ('kind = "shots"\n\ndecimal = ";"', "line 3: decimal must be"),
        ('kind = "shots"\ntime_zone = "Mars"', "line 2: unknown time zone"),
        ('kind = "shots"\nencoding = "klingon"', "line 2: unknown encoding"),
        ('kind = "shots"\ndelimiter = ";;"', "line 2: delimiter must be one sign"),
        (BASE + '[columns.smash]\nfrom = "x"', "line 10: shots has no column smash"),
        (BASE + '[columns.carry_m]\nfrom = "x"\nunit = "mph"', "line 12: carry_m has m"),
        (BASE + '[columns.carry_m]\nfrom = "x"\nunit = "furlong"', "line 12: unknown unit furlong"),
        (BASE + '[columns.carry_m]\nunit = "yd"', "line 10: carry_m needs one of"),
        (BASE + '[columns.carry_m]\nfrom = "x"\nformat = "%d"', "line 12: carry_m is no day"),
        (BASE + '[columns.arm]\nfrom = "x"\nplus = ["R"]', "line 12: arm is no number"),
        (BASE + '[columns.carry_m]\nfrom = 3', "line 11: from must be"),
        (BASE + "[file_name]\npattern = '(P'", "line 11: the pattern cannot be used"),
        (BASE + "[file_name]\npattern = 'P'", "line 11: the pattern has no named group"),
        (BASE + "[[heading]]\npattern = '(?P<x>P)'", "a heading needs line"),
        (BASE + '[session]\nball = "premium"', "the sessions need a kind"),
        ('kind = "shots"\n[columns.carry_m]\nfrom = "x"', "nothing says where session_id, player_id, shot_no, struck_at, club"),
        ('kind = "shots"\n[constants]\nclub = 3', "line 3: club must be text"),
    ],
)  # fmt: skip
def test_a_mapping_that_cannot_be_used_says_where_and_why(text: str, told: str) -> None:
    with pytest.raises(SettingsError) as fault:
        parsed_mapping("bay", text)
    assert told in str(fault.value)
    assert "\n" not in str(fault.value)


def test_words_that_mean_no_word_of_ours_are_refused() -> None:
    with pytest.raises(SettingsError, match="line 11: 1w is to mean 'big stick'"):
        parsed_mapping(
            "bay", BASE.replace('club = "driver"\n', "") + '[columns.club]\nfrom = "x"\nwords = { "1W" = "big stick" }'
        )


def test_the_reference_of_keys_holds_every_key() -> None:
    text = keys_text()
    assert all(f"| `{key.key}` | {key.shape} |" in text for key in KEYS)


def _number(cell: str, **rule: str) -> object:
    lines = "".join(f"{key} = {value}\n" for key, value in rule.items())
    top = BASE.replace("[constants]", 'decimal = ","\nthousands = "."\ndelimiter = ";"\n[constants]')
    mapping = parsed_mapping("bay", f'{top}[columns.offline_m]\nfrom = "x"\n{lines}')
    content = mapped_cells(mapping, "a.csv", ".csv", f"t;x\n2026-03-14 10:00;{cell}\n".encode())
    assert isinstance(content, Cells)
    return content.rows["offline_m"].item()


@pytest.mark.parametrize(
    ("cell", "rule", "wanted"),
    [
        ("12,5", {}, "12.5"),
        ("1.012,5", {}, "1012.5"),
        ("10,0", {"unit": '"yd"'}, "9.144"),
        ("12,5 R", {"plus": '["R"]', "minus": '["L"]'}, "12.5"),
        ("L 12,5", {"plus": '["R"]', "minus": '["L"]'}, "-12.5"),
        ("12,5l", {"plus": '["R"]', "minus": '["L"]'}, "-12.5"),
        ("\u22123,5", {}, "-3.5"),
        ("12,5", {"reverse": "true"}, "-12.5"),
        ("12,5 m", {}, "12.5"),
        ("-12,5 L", {"plus": '["R"]', "minus": '["L"]'}, "? -12,5 L"),
        ("-12,5 R", {"plus": '["R"]', "minus": '["L"]'}, "? -12,5 R"),
        ("L 12,5 L", {"plus": '["R"]', "minus": '["L"]'}, "? L 12,5 L"),
        ("-12,5", {"plus": '["R"]', "minus": '["L"]'}, "-12.5"),
        ("+12,5 L", {"plus": '["R"]', "minus": '["L"]'}, "-12.5"),
        ("12,5 X", {"plus": '["R"]', "minus": '["L"]'}, "? 12,5 X"),
        ("12.5", {}, "? 12.5"),  # not twelve and a half: the point separates thousands here
        ("1.2.3", {}, "? 1.2.3"),
        ("", {}, None),
        ("0,0 L", {"plus": '["R"]', "minus": '["L"]'}, "0.0"),
    ],
)
def test_numbers_are_read_as_the_export_writes_them(cell: str, rule: dict[str, str], wanted: str | None) -> None:
    got = _number(cell, **rule)
    assert got == wanted or float(str(got)) == pytest.approx(float(str(wanted)))
