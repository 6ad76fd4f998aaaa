"""A column that a mapping names and an export has no more is told of, beside the one that nobody knows."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.conftest import DropFolder

MAPPING = (
    'kind = "shots"\n[constants]\nplayer_id = "P1"\nclub = "driver"\n[session]\nkind = "range"\n'
    '[columns.session_id]\ntemplate = "{player_id}-{day}"\n[columns.shot_no]\nnumber_rows = true\n'
    '[columns.struck_at]\nfrom = "t"\n'
    '[columns.club_speed_mps]\nfrom = "Speed (mph)"\nunit = "mph"\n[columns.carry_m]\nfrom = "Carry"\n'
)


def _map(folder: DropFolder, name: str, text: str) -> None:
    (folder.root / "mappings").mkdir(exist_ok=True)
    (folder.root / "mappings" / f"{name}.toml").write_text(text, encoding="utf-8")


def test_a_column_that_was_renamed_is_told_by_both_of_its_names(folder: DropFolder) -> None:
    folder.people()
    _map(folder, "bay", MAPPING)
    folder.drop("bay/old.csv", "t,Speed (mph),Carry\n2026-03-14T10:00:00,100,210\n")
    folder.drop("bay/new.csv", "t,Speed (km/h),Carry\n2026-03-15T10:00:00,160,211\n")
    outcome = folder.files()
    assert (outcome["bay/old.csv"].n_warnings, outcome["bay/new.csv"].n_warnings) == (0, 2)
    told = folder.rows("select rule, \"column\" from problem where severity = 'warning' order by rule").rows()
    assert told == [("mapped_column_missing", "Speed (mph)"), ("unknown_column", "Speed (km/h)")]
    assert folder.rows("select count(club_speed_mps) as n from shot")["n"].item() == 1
    assert folder.faults() == {}


def test_a_column_of_a_wide_form_is_told_of_too(folder: DropFolder) -> None:
    folder.people()
    mapping = (
        'kind = "problems"\n[long]\nname = "where"\nvalue = "answer"\n[long.rows]\n"neck" = "Neck"\n"lower_back" = "Back"\n'
        '[columns.player_id]\nfrom = "who"\n[columns.week_ending]\nfrom = "week"\n[columns.region]\nfrom = "where"\n'
        '[columns.participation]\nfrom = "answer"\n'
    )
    _map(folder, "form", mapping)
    folder.drop("form/week.csv", "who,week,Neck\nP1,2026-03-15,0\n")
    assert folder.files()["form/week.csv"].n_warnings == 1
    assert folder.rows("select \"column\" from problem where rule = 'mapped_column_missing'")["column"].to_list() == ["Back"]
