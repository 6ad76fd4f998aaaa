"""Files that were dropped onto the page and not accepted yet: how they are read is corrected before anything is handed in."""

from __future__ import annotations

import json
import os
import re
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest

from pipelines.desk import dropped
from pipelines.desk.dropped import open_drops
from pipelines.stages.intake import AskedAgain, held_ids, take
from tests.flow.desk_visitor import fields, filled_in
from tests.flow.foreign_files import AT, ROWS, client, desk, export, stood, take_in
from warehouse.connection import open_warehouse, scalar
from warehouse.night import store_night

if TYPE_CHECKING:
    from httpx import Client, Response

    from pipelines.desk.visit import Desk

__all__ = ["client", "desk", "stood"]


def drop_files(client: Client, **files: str) -> Response:
    form = fields(client.get("/drop").text, "/drop")
    return client.post("/drop", data=form, files=[("files", (f"{name}.csv", text.encode())) for name, text in files.items()])


def correction(page: str, name: str) -> str:
    found = re.search(rf'href="(/dropped/[0-9a-f]{{32}}/[0-9a-f]{{16}})" aria-label="[^"]*{re.escape(name)}"', page)
    assert found, page
    return found[1]


def kept(client: Client, path: str, **choices: str) -> Response:
    answer = client.post(path, data={**filled_in(client.get(path).text), **choices, "do": "hand_in"})
    assert answer.url.params.get("done") == "kept", answer.text
    return answer


def ticks(page: str) -> dict[str, str]:
    """Files that are ticked, each with what is sent for it."""
    found = re.findall(r'<input type="checkbox" name="take" value="([0-9a-f]+)" form="accept" checked> Accept ([^<]+)<', page)
    return {name: key for key, name in found}


def accept(client: Client, shown: Response, *names: str) -> Response:
    """Accept these files of a drop, or all that are ticked."""
    ticked = ticks(shown.text)
    keys = [ticked[name] for name in names or ticked]
    return client.post("/drop/accept", data={**fields(shown.text, "/drop/accept"), **({"take": keys} if keys else {})})


def test_files_of_one_name_from_two_folders_are_both_kept(desk: Desk, client: Client) -> None:
    form = fields(client.get("/drop").text, "/drop")
    days = ("2026-02-03", "2026-02-04", "2026-02-05")
    rows = [f"player_id,date,fatigue\nstork,{day},3\n".encode() for day in days]
    folders = [("files", (f"week {n}/checkins.csv", row)) for n, row in enumerate(rows)]
    for _ in range(2):  # a form that is sent again lays nothing twice
        shown = client.post("/drop", data=form, files=folders)
        (drop,) = open_drops(desk.workspace, AT)
        assert sorted(file.path.read_bytes() for file in drop.files()) == sorted(rows)
    accept(client, shown)
    taken = take_in(desk)
    assert {name: file.n_rows for name, file in taken.items()} == {
        "checkins.csv": 1,
        "checkins (2).csv": 1,
        "checkins (3).csv": 1,
    }


def test_a_dropped_file_is_corrected_before_anything_is_handed_in(desk: Desk, client: Client) -> None:
    shown = drop_files(client, week5=export("heron"), week6=export("wren"), other="a,b\n1,2\n")
    assert shown.text.count("Would be held whole: kind of file not known.") == 3
    assert shown.text.count("Correct how it is read, with the button above") == 3
    assert "No file waits in the inbox." in client.get("/").text
    shown = kept(client, correction(shown.text, "week5.csv"), **{"name": "bay", "unit-6": "ft"})
    assert not [path for path in desk.workspace.inbox.rglob("*") if path.is_file()]
    assert not (desk.workspace.mappings / "bay.toml").exists()
    assert shown.text.count("Would be loaded: all 12 rows.") == 2  # what has the same columns is read alike
    assert shown.text.count("Read through the mapping bay, as corrected here") == 2
    assert shown.text.count("Would be held whole") == 1
    assert "a name of ours" not in shown.text
    again = client.get(correction(shown.text, "week6.csv")).text  # opened again it says what was chosen
    assert filled_in(again)["unit-6"] == "ft"
    assert accept(client, shown).url.params["done"] == "accepted"
    taken = take_in(desk)
    assert taken["mapping"].status == "loaded"
    assert [(taken[f"bay/week{n}.csv"].status, taken[f"bay/week{n}.csv"].n_loaded) for n in (5, 6)] == [("loaded", 12)] * 2
    assert 'unit = "ft"' in (desk.workspace.mappings / "bay.toml").read_text(encoding="utf-8")
    assert not list((desk.workspace.desk / "dropped").iterdir())
    assert not [path for path in desk.workspace.inbox.rglob("*") if path.is_file()]


def test_some_files_of_a_drop_are_accepted_and_the_rest_stays(desk: Desk, client: Client) -> None:
    shown = drop_files(client, week5=export("heron"), week6=export("wren"), other="a,b\n1,2\n")
    shown = kept(client, correction(shown.text, "week5.csv"), **{"name": "bay", "unit-6": "ft"})
    assert set(ticks(shown.text)) == {"week5.csv", "week6.csv", "other.csv"}
    form = fields(shown.text, "/drop/accept")
    for nothing in ({}, {"take": "0" * 16}):
        assert client.post("/drop/accept", data={**form, **nothing}).status_code == 422
    assert not [path for path in desk.workspace.inbox.rglob("*") if path.is_file()]
    rest = accept(client, shown, "week6.csv")  # the mapping was made for the other one
    assert rest.url.params["done"] == "accepted_some"
    assert set(ticks(rest.text)) == {"week5.csv", "other.csv"}
    assert client.post("/drop/accept", data={**form, "take": ticks(shown.text)["week6.csv"]}).status_code == 422  # sent again
    assert len(open_drops(desk.workspace, AT)) == 1
    taken = take_in(desk)
    assert (taken["mapping"].status, taken["bay/week6.csv"].n_loaded, len(taken)) == ("loaded", 12, 2)
    last = accept(client, client.get(rest.url.path, params=rest.url.params), "week5.csv")
    assert list(ticks(last.text)) == []  # one file alone needs no tick
    taken = take_in(desk, 10)
    assert taken["bay/week5.csv"].n_loaded == 12
    assert {file.status for file in taken.values()} == {"loaded"}
    assert accept(client, last).url.params["done"] == "accepted"
    assert take_in(desk, 15)["other.csv"].status == "held"
    assert open_drops(desk.workspace, AT) == []


def test_both_parts_of_a_drop_may_wait_for_one_intake(desk: Desk, client: Client) -> None:
    shown = drop_files(client, week5=export("heron"), week6=export("wren"), other="a,b\n1,2\n")
    shown = kept(client, correction(shown.text, "week5.csv"), **{"name": "bay", "unit-6": "ft"})
    accept(client, accept(client, shown, "week6.csv"), "week5.csv")
    taken = take_in(desk)
    assert [(taken[f"bay/week{n}.csv"].status, taken[f"bay/week{n}.csv"].n_loaded) for n in (5, 6)] == [("loaded", 12)] * 2
    assert {file.status for file in taken.values()} == {"loaded"}
    assert not [path for path in desk.workspace.inbox.rglob("*") if path.is_file()]


def test_an_intake_between_file_and_mapping_loses_neither(desk: Desk, client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    shown = kept(client, correction(drop_files(client, week5=export("heron")).text, "week5.csv"), name="bay")
    with monkeypatch.context() as patch:
        patch.setattr("pipelines.desk.handing.Tray.lay", lambda *_: (_ for _ in ()).throw(OSError("the disk")))
        accept(client, shown)
    assert take_in(desk)["bay/week5.csv"].reason == "no_mapping"
    accept(client, client.get(f"/drop?drop={shown.url.params['drop']}"))
    assert take_in(desk)["bay/week5.csv"].n_loaded == 12


def test_words_that_are_not_understood_are_asked_and_settled(desk: Desk, client: Client) -> None:
    late = "".join(
        ROWS[0].format(who="heron").replace("17:00", f"18:{n % 60:02}").replace("Driver", "Driver") + "\n" for n in range(420)
    )
    text = (
        export("heron").replace(";Driver;98,5", ";Großer Bruder;98,5").replace("-1,5", "1,5 XL")
        + late
        + late.splitlines()[0].replace("Driver", "Alter Ast")
    )
    shown = drop_files(client, week5=text)
    path = correction(shown.text, "week5.csv")
    page = client.get(path).text
    assert "Großer Bruder means" in page
    assert "Alter Ast means" in page  # beyond what a draft looks at
    assert "XL means" in page
    assert "5 cells would not load, the first of them" in page
    form = filled_in(page)
    places = {form[name]: name.replace("word-of-", "word-") for name in form if name.startswith("word-of-")}
    bad = client.post(path, data={**form, places["XL"]: "3-wood", "do": "hand_in"})
    assert bad.status_code == 422
    assert "Choose one of the list" in bad.text
    chosen = {places["Großer Bruder"]: "3-wood", places["Alter Ast"]: "5-wood", places["XL"]: "plus"}
    again = client.post(path, data={**form, **chosen, "do": "preview"}).text
    assert "is not understood" not in again
    german = client.get("/language/de") and client.post(path, data={**filled_in(again), "do": "preview"}).text
    assert "Großer Bruder heißt" in german
    assert "Holz 3" in german
    client.get("/language/en")
    answer = client.post(path, data={**filled_in(again), "do": "hand_in"})
    (handed,) = [path.read_text(encoding="utf-8") for path in desk.workspace.desk.rglob("*.json") if ".corrected" in str(path)]
    text = json.loads(handed)["text"]
    assert '"Großer Bruder" = "3-wood"' in text
    assert '"alter ast" = "5-wood"' in text
    assert 'plus = ["XL"]' in text
    assert "Would be loaded: all 433 rows." in answer.text
    opened = filled_in(client.get(correction(answer.text, "week5.csv")).text)  # opened again it is still settled
    assert opened[next(name for name, word in opened.items() if word == "Großer Bruder").replace("word-of-", "word-")] == "3-wood"


def test_what_nobody_accepts_is_listed_bounded_and_forgotten_after_a_day(
    desk: Desk, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = drop_files(client, week5=export("heron"))
    assert "it is kept until 6 February 2026, 10:00, then forgotten" in first.text
    assert f"/drop?drop={first.url.params['drop']}" in client.get("/drop").text
    assert "week5.csv" in client.get("/drop").text
    monkeypatch.setattr(dropped, "MOST_DROPS", 1)
    assert drop_files(client, week6=export("wren")).status_code == 409
    folder = desk.workspace.desk / "dropped" / first.url.params["drop"]
    os.utime(folder, ((AT - timedelta(hours=23)).timestamp(),) * 2)
    assert len(open_drops(desk.workspace, AT)) == 1
    os.utime(folder, ((AT - timedelta(hours=25)).timestamp(),) * 2)
    take_in(desk)  # intake forgets it, though nobody looks
    assert not folder.exists()
    assert client.get(first.url.path, params=first.url.params).status_code == 200
    assert client.get(correction(first.text, "week5.csv")).status_code == 404


def test_a_mapping_that_changed_meanwhile_is_not_replaced(desk: Desk, client: Client) -> None:
    shown = kept(client, correction(drop_files(client, week5=export("heron")).text, "week5.csv"), name="bay")
    (desk.workspace.mappings / "bay.toml").write_text('kind = "shots"\n', encoding="utf-8")
    answer = accept(client, shown)
    assert answer.status_code == 409
    assert "The mapping bay was changed meanwhile" in answer.text
    assert not [path for path in desk.workspace.inbox.rglob("*") if path.is_file()]
    path = correction(client.get(f"/drop?drop={shown.url.params['drop']}").text, "week5.csv")
    assert accept(client, kept(client, path)).url.params["done"] == "accepted"
    assert take_in(desk)["bay/week5.csv"].n_loaded == len(ROWS)


def take_back(client: Client, name: str) -> Response:
    page = client.get("/drop").text
    found = re.search(rf'name="file_id" value="([0-9a-f]{{64}})"><p>[^<]*{re.escape(name)}', page)
    assert found, page
    return client.post("/drop/withdraw", data={**fields(page, "/drop/withdraw"), "file_id": found[1]})


def rows_of(desk: Desk, text: str) -> int:
    with open_warehouse(desk.workspace.warehouse, read_only=True) as con:
        return int(str(scalar(con, f"select count(*) from {text}")))


def test_a_file_that_was_taken_in_is_taken_back_with_the_next_intake(desk: Desk, client: Client) -> None:
    accept(client, drop_files(client, players_owl="player_id,alias\nowl,Owl\n"))
    accept(client, drop_files(client, plans_b="player_id,week_starting,swings_full\nheron,2026-02-02,40\n"))
    take_in(desk, -5)
    assert rows_of(desk, "plan where week_starting = '2026-02-02'") == 1
    with open_warehouse(desk.workspace.warehouse) as con:
        store_night(con, "as it was", AT.date())
    outside = desk.workspace.warehouse.read_bytes()
    assert take_back(client, "plans_b.csv").url.params["done"] == "taken_back"
    assert desk.workspace.warehouse.read_bytes() == outside  # the desk writes into the inbox and nothing else
    assert "It is taken back with the next intake." in client.get("/drop").text
    taken = take_in(desk, 10)
    assert (taken["withdrawal"].status, taken["withdrawal"].note) == ("loaded", "plans_b.csv was taken back")
    assert rows_of(desk, "plan where week_starting = '2026-02-02'") == 0
    assert not [path for path in desk.workspace.inbox.rglob("*") if path.is_file()]
    assert rows_of(desk, "night_state") == 0  # what follows from it is made anew
    assert "plans_b.csv" not in client.get("/drop").text
    assert "withdraw rows=1" in desk.workspace.log.read_text(encoding="utf-8")
    assert take_back(client, "players_owl.csv").status_code == 200
    assert take_in(desk, 15)["withdrawal"].status == "loaded"
    accept(client, drop_files(client, plans_b="player_id,week_starting,swings_full\nheron,2026-02-02,40\n"))
    assert take_in(desk, 20)["plans_b.csv"].status == "loaded"  # dropped again it is back


def test_what_cannot_be_undone_is_held_with_the_reason(desk: Desk, client: Client) -> None:
    accept(client, drop_files(client, players_owl="player_id,alias\nowl,Owl\n"))
    accept(client, drop_files(client, plans_owl="player_id,week_starting,swings_full\nowl,2026-02-02,40\n"))
    take_in(desk)
    take_back(client, "players_owl.csv")
    taken = take_in(desk, 10)["withdrawal"]
    assert (taken.status, taken.reason) == ("held", "cannot_be_undone")
    assert "other files name its players owl" in taken.says
    assert rows_of(desk, "player where player_id = 'owl'") == 1
    held = client.get("/drop").text.split('id="held"')[1]
    assert "withdrawal_" in held
    assert "/mapping/" not in held.split("<details>")[0]
    take_back(client, "plans_owl.csv")
    take_in(desk, 15)
    with open_warehouse(desk.workspace.warehouse) as con:
        again = take.take_in(
            desk.workspace.root, con, desk.academy, AT + timedelta(minutes=20), asked=AskedAgain(held_ids(con))
        ).files
        assert [file.note for file in again if file.note] == ["players_owl.csv was taken back"]
        assert scalar(con, "select count(*) from file where name like 'withdrawal%'") == 0
    for told in ('{"file_id": "x"}', "[]", "{", '{"file_id": "' + "0" * 64 + '"}'):
        (desk.workspace.inbox / "withdrawal_1.json").write_text(told, encoding="utf-8")
        assert take_in(desk, 25)["withdrawal_1.json"].reason == "cannot_be_undone"


def test_what_players_handed_in_and_what_is_not_there_is_not_taken_back_here(client: Client) -> None:
    form = {**fields(client.get("/drop").text, "/drop"), "file_id": "0" * 64}
    assert client.post("/drop/withdraw", data=form).status_code == 404
    assert client.post("/drop/withdraw", data={**form, "form_id": "x"}).status_code == 422


def test_what_a_file_would_replace_is_said_before_it_is_accepted(desk: Desk, client: Client) -> None:
    rounds = "player_id,played_on,strokes\nstork,2026-02-03,73\nstork,2026-02-04,73\n"
    first = drop_files(client, rounds_a=rounds)
    assert "It would replace" not in first.text
    accept(client, first)
    assert take_in(desk)["rounds_a.csv"].status == "loaded"
    shown = drop_files(client, rounds_b=rounds.replace(",73", ",74"))
    assert "Would be loaded: all 2 rows. It would replace 2 sessions, days or rows that are there." in shown.text
