from __future__ import annotations

from dataclasses import fields, replace
from typing import TYPE_CHECKING

import pytest

from pipelines.setting_list import SETTINGS
from pipelines.settings import default_settings, read_settings, settings_from_text
from schemas.academy import Academy, Access, Alerts, ReferenceAir, Share, Times, Units
from schemas.errors import SettingsError

if TYPE_CHECKING:
    from pathlib import Path

TEXT = default_settings("Lakeside", "Europe/Berlin")


def test_the_file_of_a_new_workspace_holds_the_defaults() -> None:
    assert settings_from_text(TEXT) == Academy(name="Lakeside", time_zone="Europe/Berlin")


def test_two_lines_are_enough() -> None:
    text = '[academy]\nname = "Lakeside"\ntime_zone = "Europe/Berlin"\n'
    assert settings_from_text(text) == Academy(name="Lakeside", time_zone="Europe/Berlin")


def test_every_setting_of_the_academy_can_be_written_and_no_other() -> None:
    parts = {"units": Units, "access": Access, "alerts": Alerts, "times": Times, "reference_air": ReferenceAir, "share": Share}
    own = {item.name for item in fields(Academy)} - {
        *parts,
        "courses",
        "group_day_without_row",
        "range_ball_factor",
        "keep_years",
        "id_key",
    }  # the key is a secret, in a file of its own
    expected = {("academy", name) for name in own}
    expected |= {(section, item.name) for section, kind in parts.items() for item in fields(kind)}
    assert {(setting.section, setting.key) for setting in SETTINGS} == expected


def test_values_arrive_where_they_belong() -> None:
    text = default_settings('The "old" course', "UTC", language="de", speed="km/h", per_week=3, coach_sees_load=False, temp_c=20)
    academy = settings_from_text(text)
    assert academy == replace(
        Academy(name='The "old" course', time_zone="UTC", language="de"),
        units=Units(speed="km/h"),
        alerts=Alerts(per_week=3),
        access=Access(coach_sees_load=False),
        reference_air=ReferenceAir(temp_c=20.0),
    )


def test_a_course_and_a_device_of_ones_own() -> None:
    text = TEXT.replace("[range_ball_factor]", '[range_ball_factor]\n"bay-3" = 0.94').replace('"tree-lined"\n', '"home"\n', 1)
    text += '\n[[courses]]\nname = "home"\n[[courses.tee_shots]]\nlength_m = 382\nfairway_m = 32\nleft = { trees_from_m = 8 }\n'
    academy = settings_from_text(text)
    assert academy.range_ball_factor == {"bay-3": 0.94}
    assert academy.course == "home"
    assert academy.courses[0].tee_shots[0].left.trees_from_m == 8


@pytest.mark.parametrize(
    ("wrong", "right", "says"),
    [
        ('language = "en"', 'language = "xx"', r"line 10: \[academy\] language .*Allowed: en, de"),
        ('time_zone = "Europe/Berlin"', 'time_zone = "Berlin"', r"line 8: \[academy\] time_zone .*Europe/Berlin"),
        ("per_week = 15", "per_week = 1.5", r"line \d+: \[alerts\] per_week is 1.5.*whole number from 0 to 1000"),
        ("per_week = 15", "per_week = true", r"per_week is True.*whole number"),
        ("false_share = 0.1", "false_share = 5", r"false_share is 5.*0.01 to 0.5"),
        ("coach_sees_load = true", 'coach_sees_load = "yes"', r"coach_sees_load is 'yes'.*true or false"),
        ('name = "Lakeside"', "name = 7", r"name is 7.*quotes"),
        ('name = "Lakeside"', 'name = " "', r"name is empty"),
        ('name = "Lakeside"', "", r"\[academy\] name is missing"),
        ('name = "Lakeside"', "nmae = 1", r"line 6: \[academy\] nmae is not a setting.*Allowed: name"),
        ("[units]", "[unit]", r"line \d+: \[unit\] is not a section.*Allowed: academy, units"),
        ('course = "tree-lined"', 'course = "mine"', r"course is \"mine\".*Allowed: open, tree-lined"),
        ("[range_ball_factor]", "[range_ball_factor]\nbay = 3", r"\[range_ball_factor\] bay is 3.*0.5 to 1.2"),
        ("[units]", "[units", r"cannot be read: .*line \d+"),
        ("[units]", '[units]\nspeed = "mph"', r"cannot be read: The key stands there twice \(at line \d+"),
        ("# The academy.", "courses = 3", r"\[courses\] is not a list"),
    ],
)
def test_a_fault_names_line_and_key_and_what_is_allowed(wrong: str, right: str, says: str) -> None:
    assert wrong in TEXT
    with pytest.raises(SettingsError, match=says) as caught:
        settings_from_text(TEXT.replace(wrong, right, 1))
    assert "\n" not in str(caught.value)


def test_sharing_wants_a_name_that_can_be_a_folder_and_a_month() -> None:
    text = TEXT.replace('folder = ""', 'folder = "s3://golf"').replace('academy = ""', 'academy = "lakeside"')
    share = settings_from_text(text.replace("levels = false", "levels = true")).share
    assert (share.folder, share.academy, share.is_on) == ("s3://golf", "lakeside", True)
    assert not settings_from_text(text).share.is_on
    for wrong, right, says in (
        ('academy = "lakeside"', 'academy = "../x"', r"line \d+: \[share\] academy is \"../x\""),
        ('academy = "lakeside"', 'academy = ""', r"\[share\] academy is \"\""),
        ('first_month = ""', 'first_month = "March"', r"line \d+: \[share\] first_month is \"March\".*2026-03"),
    ):
        with pytest.raises(SettingsError, match=says):
            settings_from_text(text.replace(wrong, right))


def test_a_file_that_is_not_text_is_refused(tmp_path: Path) -> None:
    (tmp_path / "academy.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(SettingsError, match="UTF-8"):
        read_settings(tmp_path / "academy.toml")


def test_a_player_may_be_a_minor_until_the_year_of_the_birthday_is_over() -> None:
    access = Access(minor_age=18)
    assert access.may_be_minor(2008, 2026)
    assert not access.may_be_minor(2007, 2026)
    assert not access.may_be_minor(None, 2026)


def test_what_a_day_without_a_row_is_can_differ_by_group() -> None:
    text = TEXT.replace("[day_without_row]", '[day_without_row]\n"U16" = "off"\nstaff = "unknown"')
    assert settings_from_text(text).group_day_without_row == {"U16": "off", "staff": "unknown"}
    with pytest.raises(SettingsError, match=r"line \d+: \[day_without_row\] U16 is \"sometimes\""):
        settings_from_text(text.replace('"U16" = "off"', '"U16" = "sometimes"'))
    with pytest.raises(SettingsError, match="day_without_row"):
        settings_from_text(text.replace('"U16" = "off"', '"U16" = 3'))


def test_two_courses_of_one_name_are_refused() -> None:
    one = '\n[[courses]]\nname = "home"\n[[courses.tee_shots]]\nlength_m = 382\nfairway_m = 32\n'
    with pytest.raises(SettingsError, match='two courses are called "home"'):
        settings_from_text(TEXT + one + one)
