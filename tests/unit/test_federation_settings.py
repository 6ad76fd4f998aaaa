"""federation.toml: what it may say, and what each fault is told as."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipelines.cli.main import main
from pipelines.federation import (
    KEY_VARIABLE,
    SETTINGS,
    FederationFolder,
    create_federation,
    default_federation,
    federation_from_text,
    find_federation,
)
from schemas.errors import SettingsError, WorkspaceError
from schemas.federation import ANY_MACHINE, FederatedAcademy, Federation, FederationReport, FederationServer

ROOT = Path("/srv/fed")
HEAD = '[federation]\nname = "Coast"\ntime_zone = "Europe/Berlin"\n'
NORTH = '[[academies]]\nname = "north"\nworkspace = "north"\n'


def read(text: str) -> Federation:
    return federation_from_text(text, ROOT)


def test_a_new_file_reads_as_the_defaults() -> None:
    assert read(default_federation("Coast", "UTC")) == Federation("Coast", "UTC")


def test_what_the_new_file_shows_of_an_academy_can_be_used() -> None:
    shown = default_federation("Coast", "UTC").partition("# [[academies]]\n")[2]
    text = HEAD + "[[academies]]\n" + "\n".join(line.removeprefix("# ") for line in shown.splitlines())
    (academy,) = read(text).academies
    assert academy == FederatedAcademy("north", Path("/srv/academies/north"), ("clubhouse",), "03:15", "Atlantic/Canary")


def test_every_key_of_the_new_file_has_its_comment() -> None:
    text = default_federation("Coast", "UTC")
    for setting in SETTINGS:
        assert f"# {setting.comment}\n{setting.key} = " in text


def test_an_academy_has_the_federations_times_and_its_own_queue() -> None:
    text = HEAD + 'nightly_at = "01:00"\n' + NORTH + '[[academies]]\nname = "south"\nworkspace = "/s"\nmachines = ["b", "a"]\n'
    north, south = read(text).academies
    assert north == FederatedAcademy("north", ROOT / "north", (), "01:00", "Europe/Berlin")
    assert (north.queue, south.queue, read(text).queues) == (ANY_MACHINE, "a+b", ("a+b", ANY_MACHINE))
    assert read(text).done_by("b") == (north, south)
    assert read(text).done_by("c") == (north,)


def test_folders_are_read_from_beside_the_file_and_addresses_as_they_are() -> None:
    assert read(HEAD + 'roll_up = "shared"').roll_up == "/srv/fed/shared"
    assert read(HEAD + 'roll_up = "s3://bucket/shared"').roll_up == "s3://bucket/shared"
    server = '[server]\ntls_cert = "a.pem"\ntls_key = "/k.pem"\n'
    assert read(HEAD + server).server == FederationServer(tls_cert=ROOT / "a.pem", tls_key=Path("/k.pem"))


def test_the_report_waits_for_its_own_machine() -> None:
    report = '[report]\nreport_at = "06:30"\nmachine = "clubhouse"\nlanguage = "de"\n'
    found = read(HEAD + 'roll_up = "shared"\n' + report + NORTH)
    assert found.report == FederationReport("06:30", "clubhouse", "de")
    assert (found.queues, found.queues_of("clubhouse"), found.queues_of("b")) == (
        ("any", "clubhouse"),
        ("any", "clubhouse"),
        ("any",),
    )
    assert read(HEAD + '[report]\nmachine = "clubhouse"\n').queues == ()


def test_what_a_message_asks_for_can_be_written() -> None:
    assert read(HEAD + '[server]\nlisten = "0.0.0.0"\nplain_http = true\n').server.plain_http


FAULTS = {
    "[federation]\nname = 3\n": r"federation.toml, line 2: \[federation\] name is 3. Write text in quotes.",
    '[federation]\nname = "x"\n': r"line 1: \[federation\] time_zone is missing.",
    "nme": "federation.toml cannot be read",
    HEAD + 'colour = "red"\n': r"line 4: \[federation\] colour is not a setting. Allowed: name, ",
    HEAD + "[sever]\n": r"line 4: \[sever\] is not a section. Allowed: federation, server, report, academies.",
    HEAD + "[academies]\n": r"line 4: \[academies\] is not a list of academies. Begin each",
    HEAD.replace("Berlin", "Berln"): r'line 3: \[federation\] time_zone is "Europe/Berln". Write an IANA name',
    HEAD + 'nightly_at = "25:00"\n': r'nightly_at is "25:00". Allowed: a time',
    HEAD + "tries = 0\n": r"tries is 0. Write a whole number from 1 to 10.",
    HEAD + "academies_per_run = 101\n": r"academies_per_run is 101.",
    HEAD + "again_after_min = -1\n": r"again_after_min is -1.",
    HEAD
    + NORTH
    + NORTH.replace('"north"\nw', '"North"\nw'): r'line 8: \[academies\] name is "north", as that of the academy before',
    HEAD + NORTH + NORTH.replace('"north"\nw', '"south"\nw'): r'line 9: \[academies\] workspace is "/srv/fed/north"',
    HEAD + NORTH + '[[academies]]\nname = "south"\n': r"line 7: \[academies\] workspace is missing. Folder of the academy",
    HEAD + NORTH.replace('"north"\nw', '"../n"\nw'): r'line 5: \[academies\] name is "../n". Letters without accents',
    HEAD + NORTH + 'time_zone = "Moon"\n': r'line 7: \[academies\] time_zone is "Moon"',
    HEAD + NORTH + 'nightly_at = "noon"\n': r'line 7: \[academies\] nightly_at is "noon"',
    HEAD + NORTH + 'machines = "a"\n': r"line 7: \[academies\] machines is 'a'. Write a list of names",
    HEAD + NORTH + 'machines = ["a b"]\n': r'line 7: \[academies\] machines is "a b"',
    HEAD + NORTH + 'machines = ["any"]\n': r'no machine can be called "any"',
    HEAD + NORTH + "player = 1\n": r"line 7: \[academies\] player is not a setting. Allowed: name, workspace, ",
    HEAD + "academies = [1]\n": r"academies is not a setting",
    "academies = [1]\n" + HEAD: r"\[academies\] is not an academy",
    HEAD + '[server]\naddress = "federation.example"\n': r'line 5: \[server\] address is "federation.example". Write http',
    HEAD + '[server]\naddress = "http://a:x"\n': r'address is "http://a:x"',
    HEAD + '[server]\naddress = "http://a:1/path"\n': r"address is",
    HEAD
    + '[server]\ndatabase_url = "mysql://a:geheim@b/c"\n': r"line 5: \[server\] database_url is not the address of a PostgreSQL",
    HEAD + '[server]\ndatabase_url = "postgresql://a@b"\n': r"database_url is not the address",
    HEAD + '[server]\ntls_cert = "a"\n': r"line 5: \[server\] tls_cert stands alone",
    HEAD + '[report]\nreport_at = "06:30"\nmachine = "a"\n': r"line 5: \[report\] report_at names a time, and roll_up in",
    HEAD + '[report]\nreport_at = "06:30"\n': r"report_at names a time, and no machine. Set machine in \[report\]",
    HEAD + '[report]\nmachine = "a b"\n': r'line 5: \[report\] machine is "a b"',
    HEAD + '[report]\nlanguage = "fr"\n': r'language is "fr". Allowed: en, de.',
    HEAD + '[server]\nplain_http = "yes"\n': r"plain_http is 'yes'. Write true or false.",
    HEAD + '[server]\ntls_key = "a"\n': r"line 5: \[server\] tls_key stands alone",
}


@pytest.mark.parametrize("text", FAULTS)
def test_a_fault_names_its_line_and_what_is_allowed(text: str) -> None:
    with pytest.raises(SettingsError, match=FAULTS[text]) as told:
        read(text)
    assert "geheim" not in str(told.value)


def test_a_new_folder_has_a_key_that_others_cannot_read(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["federation", "new", str(tmp_path / "coast")]) == 0
    assert capsys.readouterr().out == f"{tmp_path / 'coast'}\n"
    made = find_federation(tmp_path / "coast")
    assert made.federation().name == "coast"
    assert made.key_file.stat().st_mode & 0o077 == 0
    assert len(made.key()) > 30
    assert main(["federation", "new", str(tmp_path / "coast")]) == WorkspaceError.exit_code
    assert create_federation(tmp_path / "other", "UTC").key() != made.key()


def test_a_key_that_was_copied_before_stays(tmp_path: Path) -> None:
    (tmp_path / ".federation-key").write_text("copied\n")
    assert create_federation(tmp_path, "UTC").key() == "copied"


def test_a_machine_without_the_key_is_told_where_it_comes_from(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(WorkspaceError, match=r"Copy \.federation-key"):
        FederationFolder(tmp_path).key()
    monkeypatch.setenv(KEY_VARIABLE, "told")
    assert FederationFolder(tmp_path).key() == "told"


def test_a_folder_without_settings_is_told(tmp_path: Path) -> None:
    with pytest.raises(WorkspaceError, match=r"no federation\.toml.*federation new"):
        find_federation(tmp_path)
