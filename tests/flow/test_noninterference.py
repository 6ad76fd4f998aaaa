"""The coach, and another player, learn nothing about a body: whatever is told of it, their bytes are the same."""

from __future__ import annotations

import contextlib
import io
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from pipelines.cli.main import main
from pipelines.measures.references import BIBLIOGRAPHY
from pipelines.measures.tradeoff import printed_savings
from pipelines.runs import Night, run_night
from pipelines.stages.desk_view import limited_groups
from pipelines.stages.mart_export import export_marts
from reports.site import build_site
from reports.tokens import player_token
from tests.flow.desk_visitor import opened_desk
from tests.flow.private_facts import AVAILABILITY, FACTS, LAST, NIGHT, PLAYERS, private_academy
from warehouse.connection import frame, open_warehouse

if TYPE_CHECKING:
    from collections.abc import Collection
    from pathlib import Path

    from pipelines.workspace import Workspace

Seen = dict[str, bytes]
OTHERS = PLAYERS[1:]


def taken_through(folder: Path, loud: Collection[str], *, coach_sees_availability: bool) -> Workspace:
    made = private_academy(folder, loud, coach_sees_availability=coach_sees_availability)
    opened_desk(made, lambda: NIGHT).keys.add_key("ann", "coach", "four words or even more", NIGHT, ("Elite",))
    run_night(Night(made, NIGHT))
    return made


def room(site: Path, *names: str) -> Seen:
    return {
        str(path.relative_to(site)): path.read_bytes()
        for name in names
        for path in sorted((site / name).rglob("*"))
        if path.is_file()
    }


def rooms_of_others(workspace: Workspace, site: Path) -> Seen:
    return room(site, *(f"players/{player_token(name, workspace.site_key())}" for name in OTHERS))


def said(*words: str) -> bytes:
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
        code = main(list(words))
    return f"{code}\n{out.getvalue()}".encode()


def commands(workspace: Workspace) -> Seen:
    """What the commands print for a coach; ids of flags that only the physio may see are asked for too."""
    place = ["-w", str(workspace.root)]
    with open_warehouse(workspace.warehouse, read_only=True) as con:
        flags = frame(con, "select flag_id, audience from flag order by flag_id")
    visible = flags.filter(flags["audience"] != "physio")["flag_id"].to_list()
    calls = [["flags", "--all", "--for", "coach", "--format", form] for form in ("table", "csv", "json")]
    calls += [["flags", "--all", "--for", "coach", "--on", str(LAST)], ["trial", "show", "T1"]]
    calls += [["explain", flag, "--for", "coach"] for flag in visible]
    told = {" ".join(call): said(*call, *place) for call in calls}
    return {what: answer.replace(str(workspace.root).encode(), b"") for what, answer in told.items()}


def exports(workspace: Workspace, folder: Path) -> Seen:
    export_marts(workspace, folder, ("coach",))
    return room(folder.parent, folder.name)


def differences(first: Seen, second: Seen) -> list[str]:
    return sorted(name for name in first.keys() | second.keys() if first.get(name) != second.get(name))


def rendered_again(workspace: Workspace, site: Path, *, coach_sees_availability: bool) -> Path:
    academy = workspace.academy()
    academy = replace(academy, access=replace(academy.access, coach_sees_availability=coach_sees_availability))
    with open_warehouse(workspace.warehouse) as con:
        sources = tuple(BIBLIOGRAPHY.values())
        key, came_on = workspace.site_key(), NIGHT.date()
        build_site(
            con,
            academy,
            site,
            as_of=LAST,
            sources=sources,
            site_key=key,
            last_files_on=came_on,
            printed=printed_savings(),
            limited=limited_groups(workspace),
        )
    return site


@pytest.fixture(scope="module")
def quiet(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    return taken_through(tmp_path_factory.mktemp("quiet") / "shore", (), coach_sees_availability=False)


@pytest.fixture(scope="module")
def loud(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    return taken_through(tmp_path_factory.mktemp("loud") / "shore", FACTS, coach_sees_availability=False)


@pytest.fixture(scope="module")
def able(tmp_path_factory: pytest.TempPathFactory) -> Workspace:
    """Everything told loudly but what says whether the player can train, in an academy where the coach sees that."""
    facts = FACTS.keys() - AVAILABILITY
    return taken_through(tmp_path_factory.mktemp("able") / "shore", facts, coach_sees_availability=True)


def test_there_are_many_kinds_of_fact_and_they_are_heard_where_they_should_be(quiet: Workspace, loud: Workspace) -> None:
    assert len(FACTS) >= 40
    assert differences(room(quiet.site, "physio"), room(loud.site, "physio"))
    assert differences(room(quiet.site, "data"), room(loud.site, "data"))
    own = f"players/{player_token(PLAYERS[0], loud.site_key())}"
    assert differences(room(quiet.site, own), room(loud.site, own))
    with open_warehouse(loud.warehouse, read_only=True) as con:
        levels = frame(con, "select audience, level, count(*) as n from flag where closed_on is null group by all").rows()
    told = {(audience, level) for audience, level, _ in levels}
    assert ("physio", "alert") in told
    assert told & {("both", "notice"), ("both", "alert")}, "something that both are told, at whichever level"


def test_the_coach_reads_the_same_whatever_is_told_of_a_body(quiet: Workspace, loud: Workspace) -> None:
    assert differences(room(quiet.site, "coach"), room(loud.site, "coach")) == []


def test_a_coach_of_one_group_reads_the_same_too(quiet: Workspace, loud: Workspace) -> None:
    seen = room(quiet.site, "groups")
    assert any(b"Avocet" in page for page in seen.values())
    assert not any(b"Curlew" in page for page in seen.values())
    assert differences(seen, room(loud.site, "groups")) == []


def test_other_players_read_the_same(quiet: Workspace, loud: Workspace) -> None:
    seen = rooms_of_others(quiet, quiet.site)
    assert len(seen) >= 3
    assert differences(seen, rooms_of_others(loud, loud.site)) == []


def test_exports_for_the_coach_and_what_commands_print_are_the_same(quiet: Workspace, loud: Workspace, tmp_path: Path) -> None:
    assert differences(exports(quiet, tmp_path / "a" / "out"), exports(loud, tmp_path / "b" / "out")) == []
    assert len(commands(quiet)) > 5
    assert differences(commands(quiet), commands(loud)) == []


def test_where_the_coach_sees_availability_nothing_but_it_is_told(quiet: Workspace, able: Workspace, tmp_path: Path) -> None:
    site = rendered_again(quiet, tmp_path / "site", coach_sees_availability=True)
    assert differences(room(site, "coach", "groups"), room(able.site, "coach", "groups")) == []
    assert differences(rooms_of_others(quiet, site), rooms_of_others(able, able.site)) == []


def test_a_flag_of_the_body_is_refused_in_the_words_for_a_flag_that_is_not_there(loud: Workspace) -> None:
    with open_warehouse(loud.warehouse, read_only=True) as con:
        (hidden,) = frame(con, "select flag_id from flag where audience = 'physio' order by flag_id limit 1").row(0)
    place = ["-w", str(loud.root)]
    for call in (["explain", "FLAG", "--for", "coach"], ["decide", "FLAG", "rest", "--role", "coach"]):
        answers = [said(*[flag if word == "FLAG" else word for word in call], *place) for flag in (hidden, "nosuch00")]
        assert answers[0].replace(hidden.encode(), b"") == answers[1].replace(b"nosuch00", b"")


def test_an_id_cannot_be_tried_out(loud: Workspace) -> None:
    from pipelines.measures.flags.engine import flag_history  # noqa: PLC0415 - only here
    from warehouse.flags import all_candidate_rows, flag_rows  # noqa: PLC0415 - only here

    with open_warehouse(loud.warehouse, read_only=True) as con:
        guessed, real = flag_history(all_candidate_rows(con), LAST).flags, flag_rows(con)
    assert guessed.height == real.height > 5
    assert set(guessed["flag_id"]) & set(real["flag_id"]) == set()


def test_who_does_not_share_answers_has_no_number_of_them(quiet: Workspace) -> None:
    squad = (quiet.site / "coach" / "squad.html").read_text(encoding="utf-8")
    assert squad.count("not shared") == 1
    assert "0 of 14" not in squad


def test_decisions_are_written_under_a_name_that_says_nothing(loud: Workspace) -> None:
    from datetime import date  # noqa: PLC0415 - only here

    from pipelines.stages.decide import Decision, record_decision  # noqa: PLC0415 - only here

    with open_warehouse(loud.warehouse, read_only=True) as con:
        (flag,) = frame(con, "select flag_id from flag where audience = 'physio' order by flag_id limit 1").row(0)
    paths = [record_decision(loud, date(2026, 3, 30), Decision(flag, "physio", "rest")) for _ in range(2)]
    names = [path.name for path in paths]
    for path in paths:
        path.unlink()
    assert len(set(names)) == 2
    assert not any(word in name for name in names for word in (flag, "physio", PLAYERS[0], "2026"))
