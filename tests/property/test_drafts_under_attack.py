"""Drafts of plain files one of whose headers was changed so that it no longer is, or shows, what it was: none stays sure.

The files are plain enough that every column of theirs is sure. Then a header is exchanged for one that only resembles it (or such
a column is put beside it), or loses what made it certain: its scale, its side, its order of day and month.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pytest

from pipelines.stages.intake.draft import draft_mappings

if TYPE_CHECKING:
    from pathlib import Path

    from pipelines.stages.intake.draft import DraftedColumn


@dataclass(frozen=True)
class Plain:
    """A file whose draft is sure of everything."""

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def renamed(self, old: str, new: str) -> Plain:
        """The same file with another header over one column."""
        return Plain(tuple(new if name == old else name for name in self.header), self.rows)

    def beside(self, old: str, new: str) -> Plain:
        """The same file with a column of the same cells under another header."""
        at = self.header.index(old)
        return Plain((*self.header, new), tuple((*row, row[at]) for row in self.rows))


def _file(table: dict[str, list[str]]) -> Plain:
    return Plain(tuple(table), tuple(zip(*table.values(), strict=True)))


def _days(first: int, n: int) -> list[str]:
    return [f"2026-03-{first + at:02d}" for at in range(n)]


_SCALE = "(0 = none, 10 = worst)"
FILES = {
    "shots": _file({
        "Session": ["S01A"] * 4 + ["S02A"] * 4, "Player": ["P07"] * 4 + ["P11"] * 4, "Shot no.": ["1", "2", "3", "4"] * 2,
        "Date": ["2026-04-15"] * 4 + ["2026-04-16"] * 4, "Time": ["10:01:20", "10:02:30", "10:03:10", "10:04:50"] * 2,
        "Club": ["Driver", "Driver", "7-iron", "7-iron"] * 2,
        "Club head speed (mph)": ["101.2", "99.8", "80.1", "79.5", "102.7", "98.4", "81.0", "78.8"],
        "Launch angle (°)": ["12.1", "13.4", "17.2", "16.8", "11.7", "12.9", "16.1", "17.7"],
        "Carry (yd)": ["232.1", "228.4", "151.3", "149.9", "236.0", "225.5", "153.8", "147.2"],
        "Offline (yd, right +)": ["4.1", "-7.2", "1.3", "-2.2", "9.4", "-11.0", "0.6", "-3.1"],
    }),
    "sessions": _file({
        "Session ID": [f"V{101 + at}" for at in range(6)], "Player": ["P01", "P02", "P03"] * 2,
        "Start": [f"{day} 1{at}:30" for at, day in enumerate(_days(14, 6))],
        "Type of session": ["range", "gym", "course", "speed", "range", "rest"],
        "Duration (min)": ["60", "75", "120", "45", "90", "0"],
        "Effort (0 = rest, 10 = hardest ever)": ["4", "6", "3", "8", "5", "0"],
        "Full swings": ["80", "0", "60", "45", "110", "0"], "Air temperature (°C)": ["14", "18", "11", "16", "21", "9"],
        "Wind (km/h)": ["8", "14", "22", "5", "11", "17"],
    }),
    "checkins": _file({
        "Player": ["P01", "P02", "P03"] * 2, "Date": ["2026-05-14"] * 3 + ["2026-05-15"] * 3,
        f"Fatigue {_SCALE}": ["3", "5", "0", "8", "2", "6"], f"Soreness {_SCALE}": ["1", "7", "2", "4", "0", "6"],
        f"Trouble sleeping {_SCALE}": ["0", "4", "8", "1", "6", "2"], "Sleep (h)": ["7.5", "6.1", "8.2", "7.0", "6.8", "9.1"],
        f"Stiff lower back {_SCALE}": ["2", "0", "6", "3", "1", "8"],
    }),
    "players": _file({
        "Player ID": ["P01", "P02", "P03", "P04"], "Nickname": ["Ash", "Birch", "Cedar", "Dogwood"],
        "Sex": ["female", "male"] * 2,
        "Handed": ["right", "left", "right", "right"], "Height (cm)": ["163", "171", "180", "158"],
        "Joined": _days(13, 4), "Health data consent": ["yes", "no", "yes", "yes"],
    }),
    "rounds": _file({
        "Player": ["P01", "P02"] * 3, "Date played": _days(14, 6), "Course": ["Oak Hill Farm", "Linden"] * 3, "Holes": ["18"] * 6,
        "Tee shots": ["14", "13", "14", "14", "12", "14"], "Fairways hit": ["8", "6", "11", "9", "5", "7"],
        "Strokes": ["74", "81", "77", "79", "88", "72"],
    }),
    "absences": _file({
        "Player": ["P01", "P02", "P03", "P04"], "First day": _days(13, 4), "Last day": _days(20, 4),
        "Reason": ["injury", "illness"] * 2, "Body region": ["neck", "lower back"] * 2,
    }),
    "decisions": _file({
        "Flag ID": ["F301", "F302", "F303", "F304"], "Decided on": _days(13, 4), "Decided by": ["coach", "physio"] * 2,
        "Decision": ["watch", "ease", "rest", "watch"], "Valid until": _days(20, 4),
    }),
}  # fmt: skip

RESEMBLE: tuple[tuple[str, str, str], ...] = (
    ("shots", "Club head speed (mph)",
     ("Target club speed; Average club speed; "
     "Peak hand speed; Vitesse cible du club; 平均ヘッドスピード")),
    ("shots", "Launch angle (°)", "Optimal launch angle; Lie angle; Abflugwinkel Ziel; Swing plane"),
    ("shots", "Carry (yd)",
     ("Carry + roll; Distance; Carry goal; Distance to pin; "
     "Mittlere Flugweite; Portée cible; Vuelo medio; 目標キャリー")),
    ("shots", "Shot no.", "Rack no.; Target no.; Hole no."),
    ("shots", "Player", "Coach; Recorded by; Saisi par; 記録者"),
    ("sessions", "Session ID", "Invoice no.; Beleg Nr.; Receipt no.; Locker"),
    ("sessions", "Start", "End; Booked on; Created at; Réservé le; 予約日; Next session"),
    ("sessions", "Duration (min)", "Planned duration (min); Travel time (min); Pause (min); 予定時間(分)"),
    ("sessions", "Full swings", "Planned full swings; Target swings; Balls hit; Swings; Bolas"),
    ("sessions", "Air temperature (°C)", "Water temperature (°C); Body temperature (°C); Taupunkt (°C); 体温(°C)"),
    ("sessions", "Wind (km/h)", "Gusts (km/h); Max wind (km/h); Böen (km/h); 瞬間風速(km/h)"),
    ("checkins", f"Fatigue {_SCALE}",
     (f"Fatigue yesterday {_SCALE}; Hunger {_SCALE}; "
     f"Mental fatigue {_SCALE}; Energy (0 = none, 10 = most)")),
    ("checkins", f"Trouble sleeping {_SCALE}",
     ("Sleep quality (0 = good, 10 = bad); "
     "How well did you sleep (0 = not at all, 10 = very well)")),
    ("checkins", "Sleep (h)", "Time in bed (h); Last sleep duration (h); Deep sleep (h); Nap (h); Mittagsschlaf (h); 昼寝(時間)"),
    ("checkins", f"Stiff lower back {_SCALE}",
     f"Lower back stiffness yesterday {_SCALE}; Last stiff lower back {_SCALE}"),
    ("players", "Health data consent",
     ("Consent; Medical consent; Photo consent; "
     "Newsletter; Einwilligung; Medical certificate")),
    ("players", "Handed", "Writing hand; Dominant eye; Latéralité; Schreibhand; 利き手"),
    ("players", "Height (cm)", "Sitting height (cm); Arm span (cm); Height last year (cm); 座高(cm)"),
    ("players", "Joined", "Start date; Licence since; Plays golf since; Joue depuis"),
    ("rounds", "Strokes", "Net strokes; Par; Score to par; Stableford; Nettoergebnis; ネットスコア"),
    ("rounds", "Fairways hit", "Fairways missed; Greens hit; フェアウェイ外し; Fairways verfehlt"),
    ("rounds", "Date played", "Entered on; Next round; Event start; Signed on"),
    ("absences", "Last day", "Back on; Expected return; First day back; Reprise; Fin prévue; 復帰日"),
    ("absences", "First day", "Reported on; Last training day; Gemeldet am; Anmäld den"),
    ("absences", "Body region", "Second region; Previous region"),
    ("decisions", "Decided by", "Told by; Printed by; Gemeldet von"),
    ("decisions", "Decision", "Previous decision; Proposal; Vorherige Entscheidung"),
    ("decisions", "Decided on", "Printed on; Reviewed on; Gedruckt am"),
)  # fmt: skip
"""A kind, a header of its file, and headers that resemble it and mean something else."""


def _drafted(plain: Plain, path: Path) -> dict[str, DraftedColumn]:
    """Each header of which the draft is sure, with its column."""
    lines = [plain.header, *plain.rows]
    path.write_text("\n".join(",".join(f'"{cell}"' for cell in line) for line in lines) + "\n", encoding="utf-8")
    columns = draft_mappings(path)[0].columns
    made = {name: column for column in columns if column.sure for name in re.findall(r"\{([^}:]+)", column.template)}
    return made | {name: column for column in columns if column.sure for name in column.sources}


@pytest.fixture(name="path")
def _path(tmp_path: Path) -> Path:
    return tmp_path / "export.csv"


@pytest.mark.parametrize("kind", FILES)
def test_a_plain_file_is_read_for_sure_whatever_the_order_of_its_columns(kind: str, path: Path) -> None:
    plain = FILES[kind]
    sure = _drafted(plain, path)
    assert set(sure) == set(plain.header)
    order = [*range(1, len(plain.header), 2), *range(0, len(plain.header), 2)][::-1]
    turned = Plain(tuple(plain.header[at] for at in order), tuple(tuple(row[at] for at in order) for row in plain.rows))
    assert {name: column.target for name, column in _drafted(turned, path).items()} == {
        name: column.target for name, column in sure.items()
    }


@pytest.mark.parametrize(("kind", "header", "others"), RESEMBLE)
def test_what_only_resembles_a_column_is_not_taken_for_it(kind: str, header: str, others: str, path: Path) -> None:
    unit = re.search(r" \((?:mph|°|yd)\)$", header)
    for other in others.split("; "):
        name = other + (unit[0] if unit and "(" not in other else "")
        assert name not in _drafted(FILES[kind].renamed(header, name), path), name


@pytest.mark.parametrize("kind", FILES)
def test_a_word_that_nobody_knows_or_an_average_beside_a_header_leaves_it_in_doubt(kind: str, path: Path) -> None:
    plain = FILES[kind]
    for header in plain.header:
        name = f"Zorkan {header}"
        if header != "Club":  # all its cells are clubs, and no other column has any
            assert name not in _drafted(plain.renamed(header, name), path), name
    for header in plain.header[-2:]:
        assert f"{header} (avg)" not in _drafted(plain.beside(header, f"{header} (avg)"), path), header


@pytest.mark.parametrize(
    ("kind", "header", "changed"),
    [
        ("checkins", f"Fatigue {_SCALE}", "Fatigue"),
        ("checkins", f"Fatigue {_SCALE}", "Fatigue (0 = worst, 10 = none)"),
        ("checkins", f"Fatigue {_SCALE}", "Müdigkeit (0 = extrem, 10 = keine)"),
        ("checkins", f"Fatigue {_SCALE}", "Fatigue (1-5)"),
        ("checkins", f"Soreness {_SCALE}", "Courbatures (0 = extrêmes, 10 = aucune)"),
        ("sessions", "Effort (0 = rest, 10 = hardest ever)", "Effort (0 = hardest ever, 10 = rest)"),
        ("sessions", "Effort (0 = rest, 10 = hardest ever)", "Effort"),
        ("shots", "Club head speed (mph)", "Club head speed"),
        ("shots", "Carry (yd)", "Carry"),
        ("shots", "Offline (yd, right +)", "Offline (yd)"),
    ],
)
def test_a_header_that_no_longer_shows_its_unit_scale_or_side_is_asked(kind: str, header: str, changed: str, path: Path) -> None:
    assert changed not in _drafted(FILES[kind].renamed(header, changed), path)


def test_the_other_side_is_read_the_other_way_round(path: Path) -> None:
    left = "Offline (yd, left +)"
    assert _drafted(FILES["shots"].renamed("Offline (yd, right +)", left), path)[left].reverse
    assert not _drafted(FILES["shots"], path)["Offline (yd, right +)"].reverse


@pytest.mark.parametrize(
    ("test", "left", "right"),
    [
        ("Trunk rotation (°)", "L", "R"),
        ("Trunk rotation (°)", "(L)", "(R)"),
        ("Trunk rotation (°)", "Lt", "Rt"),
        ("Rumpfdrehung (°)", "li.", "re."),
        ("Rotation du tronc (°)", "G", "D"),
        ("Rotación del tronco (°)", "izq", "der"),
        ("Rotazione del tronco (°)", "sx", "dx"),
        ("Rotação do tronco (°)", "E", "D"),
        ("Bålrotation (°)", "V", "H"),
        ("体幹回旋（°）", "左", "右"),
    ],
)
def test_a_letter_over_a_column_is_a_side(test: str, left: str, right: str, path: Path) -> None:
    rows = (("P01", "2026-03-13", "50", "46"), ("P02", "2026-03-14", "44", "51"))
    names = (f"{test} {left}", f"{test} {right}")
    lines = [("Player", "Date", *names), *rows]
    path.write_text("\n".join(",".join(line) for line in lines) + "\n", encoding="utf-8")
    sides = next(column for column in draft_mappings(path)[0].columns if column.target == "side")
    assert sides.sure
    assert list(sides.words.values()) == ["left", "right"]


def test_sides_that_do_not_go_together_are_asked(path: Path) -> None:
    rows = (("P01", "2026-03-13", "50", "46"), ("P02", "2026-03-14", "44", "51"))
    assert "answer" not in _drafted(Plain(("Player", "Date", "Trunk rotation (°)", "Trunk rotation (°) R"), rows), path)


def test_forms_and_units_below_a_header_are_no_row(path: Path) -> None:
    plain = FILES["shots"]
    names = tuple(re.sub(r" \(.*\)$", "", name) for name in plain.header)
    below = ("", "", "#", "yyyy-mm-dd", "hh:mm:ss", "", "mph", "deg", "yd", "yd (+ right)")
    assert set(_drafted(Plain(names, (below, *plain.rows)), path)) == set(names)


def test_days_that_may_be_months_are_asked(path: Path) -> None:
    plain = FILES["rounds"]
    at = plain.header.index("Date played")
    rows = tuple((*row[:at], f"{n + 1:02d}/0{n + 2}/2026", *row[at + 1 :]) for n, row in enumerate(plain.rows))
    assert "Date played" not in _drafted(Plain(plain.header, rows), path)
    told = Plain(plain.header, rows).renamed("Date played", "Date played (dd/mm/yyyy)")
    assert "Date played (dd/mm/yyyy)" in _drafted(told, path)
