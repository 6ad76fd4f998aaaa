"""A file that is held since nobody knows how it is read: corrected and handed in at the desk, put in place by the intake."""

from __future__ import annotations

import hashlib
import html
import json
import re
import shutil
import threading
import time
from dataclasses import replace
from datetime import timedelta
from typing import TYPE_CHECKING, Any

import pytest

from pipelines.runs import Night, take_in_waiting
from pipelines.stages.intake import AskedAgain, HandedMapping, handed_mappings, handed_text, read_through, take
from pipelines.stages.rebuild import rebuild
from pipelines.workspace import Workspace
from tests.flow.desk_visitor import filled_in, opened_desk, visitor
from tests.flow.foreign_files import AT, PICTURE, SCRIPT, client, desk, export, take_in
from warehouse.connection import frame, open_warehouse, scalar

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from httpx import Client

    from pipelines.desk.visit import Desk
    from pipelines.stages.intake import ReadThrough

__all__ = ["client", "desk"]

BAD = 'kind = "shots"\ncolumns = 3\n'
TURNED = 'kind = "shots"\n[columns.club]\nfrom = "Schläger"\n[columns.player_id]\nfrom = "Spieler"\n'


@pytest.fixture(scope="module")
def held(rendered: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A workspace with three files that are held: without a mapping, with one that cannot be used, and of no known kind."""
    place = tmp_path_factory.mktemp("held") / "academy"
    shutil.copytree(rendered, place)
    found = Workspace(place)
    for folder, who in (("bay", "heron"), ("old", "wren")):
        (found.inbox / folder).mkdir()
        (found.inbox / folder / f"{folder}_export.csv").write_text(export(who), encoding="utf-8")
    (found.mappings / "old.toml").write_text(BAD, encoding="utf-8")
    (found.inbox / "Week 5.csv").write_text(export("stork"), encoding="utf-8")
    taken = take_in_waiting(Night(found, AT - timedelta(minutes=5))).files
    assert {file.name: file.reason for file in taken} == {
        "bay/bay_export.csv": "no_mapping",
        "old/old_export.csv": "bad_mapping",
        "Week 5.csv": "unknown_kind",
    }
    return place


@pytest.fixture
def stood(held: Path) -> Path:
    return held


@pytest.fixture(scope="module")
def still(held: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Client, Workspace]]:
    """The same, for tests after which everything is as before."""
    place = tmp_path_factory.mktemp("still") / "academy"
    shutil.copytree(held, place)
    with visitor(opened_desk(Workspace(place), lambda: AT), "data") as found:
        yield found, Workspace(place)


def address(client: Client, name: str) -> str:
    """Where the reading of a file is corrected."""
    found = re.search(rf'href="(/mapping/[0-9a-f]{{64}})" aria-label="[^"]*{re.escape(name)}"', client.get("/drop").text)
    assert found, name
    return found[1]


def hand_in(client: Client, name: str, /, **choices: str) -> str:
    """Correct a file's reading, and hand it in; what the next page says."""
    path = address(client, name)
    answer = client.post(path, data={**filled_in(client.get(path).text), **choices, "do": "hand_in"})
    assert answer.url.params.get("done") == "corrected", answer.text
    return answer.text


def speeds(desk: Desk, player_id: str) -> list[float]:
    with open_warehouse(desk.workspace.warehouse, read_only=True) as con:
        query = "select club_speed_mps from shot where player_id = ? and struck_at >= '2026-02-01' order by struck_at"
        return frame(con, query, [player_id])["club_speed_mps"].to_list()


def outside(desk: Desk) -> dict[str, bytes]:
    """All files but those that the desk may write."""
    own = (desk.workspace.desk, desk.workspace.inbox)
    return {
        str(path): path.read_bytes()
        for path in sorted(desk.workspace.root.rglob("*"))
        if path.is_file() and not any(path.is_relative_to(folder) for folder in own)
    }


def test_a_refused_file_is_loaded_through_the_mapping_that_was_handed_in(desk: Desk, client: Client) -> None:
    before = outside(desk)
    told = hand_in(client, "bay/bay_export.csv", **{"unit-6": "ft"})
    assert "A mapping was handed in" in told
    assert outside(desk) == before  # the desk writes into the inbox and nothing else
    taken = take_in(desk)
    assert taken["mapping"].status == "loaded"
    assert (taken["bay/bay_export.csv"].status, taken["bay/bay_export.csv"].n_loaded) == ("loaded", 12)
    assert speeds(desk, "heron")[:2] == pytest.approx([98.5 * 0.44704, 100.5 * 0.44704], abs=1e-9)
    text = (desk.workspace.mappings / "bay.toml").read_text(encoding="utf-8")
    assert 'unit = "ft"' in text
    assert "m or yd or ft would do" not in text  # somebody has said it
    assert not list(desk.workspace.inbox.rglob("*.*"))
    assert not list(desk.workspace.quarantine.glob("bay*"))
    (desk.workspace.inbox / "bay" / "next.csv").write_text(export("wren"), encoding="utf-8")
    assert take_in(desk, 10)["bay/next.csv"].status == "loaded"


def test_it_is_tried_at_the_height_of_the_academys_wind(desk: Desk, client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    heights: list[float | None] = []

    def noted(*given: Any) -> ReadThrough:
        heights.append(given[1].wind_height_m)
        return read_through(*given)

    hand_in(client, "bay_export.csv")
    monkeypatch.setattr(handed_mappings, "read_through", noted)
    text = desk.workspace.settings.read_text()
    desk.workspace.settings.write_text(re.sub(r"(?m)^wind_height_m = .*", "wind_height_m = 4.0", text))
    take_in(desk)
    assert heights == [4.0]


def test_a_file_in_no_folder_is_read_through_a_mapping_of_a_new_name(desk: Desk, client: Client) -> None:
    hand_in(client, "Week 5.csv", name="driving range")
    taken = take_in(desk)
    assert (taken["driving range/Week 5.csv"].status, taken["driving range/Week 5.csv"].n_loaded) == ("loaded", 12)
    assert (desk.workspace.mappings / "driving range.toml").is_file()
    assert "Week 5.csv" not in client.get("/drop").text.split('id="held"')[1].split("<details>")[0]
    with open_warehouse(desk.workspace.warehouse, read_only=True) as con:
        assert scalar(con, "select count(*) from file where name like '%Week 5.csv'") == 1


def test_what_stood_in_the_place_of_a_mapping_is_kept(desk: Desk, client: Client) -> None:
    assert "this takes its place" in client.get(address(client, "old/old_export.csv")).text
    hand_in(client, "old/old_export.csv")
    assert take_in(desk)["old/old_export.csv"].status == "loaded"
    kept = desk.workspace.archive / "mappings" / f"{hashlib.sha256(BAD.encode()).hexdigest()}.toml"
    assert kept.read_text(encoding="utf-8") == BAD


def test_a_file_that_reads_wrongly_is_read_anew_and_the_warehouse_can_be_made_anew(desk: Desk, client: Client) -> None:
    hand_in(client, "bay/bay_export.csv")
    take_in(desk)
    wrong = speeds(desk, "heron")
    path = re.search(r'<details>.*?href="(/mapping/[0-9a-f]{64})">bay/bay_export', client.get("/drop").text, re.DOTALL)
    assert path
    page = client.get(path[1]).text
    assert filled_in(page)["unit-4"] == "mph"
    changed = {**filled_in(page), "unit-4": "km/h", "side-6": "left"}
    shown = client.post(path[1], data={**changed, "do": "preview"}).text
    assert filled_in(shown)["unit-4"] == "km/h"
    client.post(path[1], data={**filled_in(shown), "do": "hand_in"})
    assert take_in(desk, 10)["bay/bay_export.csv"].n_loaded == 12
    assert speeds(desk, "heron") == pytest.approx([speed / 0.44704 / 3.6 for speed in wrong], abs=1e-9)
    with open_warehouse(desk.workspace.warehouse, read_only=True) as con:
        assert scalar(
            con, "select max(offline_m) from shot where file_id in (select file_id from file where mapping = 'bay')"
        ) == pytest.approx(6.5 * 0.9144)
    rebuild(desk.workspace, AT + timedelta(hours=1), incomplete=False)
    assert speeds(desk, "heron") == pytest.approx([speed / 0.44704 / 3.6 for speed in wrong], abs=1e-9)


def test_choices_are_previewed_and_nothing_chosen_is_lost(still: tuple[Client, Workspace]) -> None:
    client, workspace = still
    path = address(client, "bay/bay_export.csv")
    first = client.get(path).text
    shown = client.post(
        path, data={**filled_in(first), "take-7": "felt", "sessions": "test", "name": "bay 2", "do": "preview"}
    ).text
    chosen = filled_in(shown)
    assert (chosen["take-7"], chosen["sessions"], chosen["name"]) == ("felt", "test", "bay 2")
    assert "Would be loaded: all 12 rows." in shown
    table = re.findall(r"<td[^>]*>(.*?)</td>", shown.split('class="preview"')[1])
    assert "44.0" in table  # 98.5 mph in m/s
    assert html.escape(PICTURE) in table
    assert [text for text in (first, shown) if SCRIPT in text or "<img" in text] == []
    assert not list(workspace.inbox.glob("mapping_*"))
    changed = client.post(path, data={**chosen, "kind": "checkins", "do": "preview"}).text  # another kind is drafted anew
    assert filled_in(changed)["was_kind"] == "checkins"


BAD_CHOICES: list[tuple[dict[str, str], str, str]] = [
    ({"take-5": "club_speed_mps", "unit-4": "km/h"}, "take-5", "more than one column"),
    ({"take-5": "no_such_column"}, "take-5", "Choose one of the list"),
    ({"unit-4": "rpm"}, "unit-4", "Choose one of the list"),
    ({"name": "../../evil"}, "name", "Use letters"),
    ({"name": "names"}, "name", "Use letters"),
    ({"take-0": ""}, "value-player_id", "Say what holds"),
    ({"take-0": "", "value-player_id": "nobody-here"}, "value-player_id", "cannot stand here"),
    ({"take-3": "", "value-club": "{Spieler}"}, "value-club", "cannot stand here"),
]


@pytest.mark.parametrize(("choices", "where", "says"), BAD_CHOICES, ids=range(len(BAD_CHOICES)))
def test_a_bad_correction_is_told_beside_its_field(
    still: tuple[Client, Workspace], choices: dict[str, str], where: str, says: str
) -> None:
    client, workspace = still
    path = address(client, "bay/bay_export.csv")
    kept = {"sessions": "test", "unit-6": "ft"}
    answer = client.post(path, data={**filled_in(client.get(path).text), **kept, **choices, "do": "hand_in"})
    assert answer.status_code == 422
    error = re.search(rf'id="{where}-error">([^<]*)<', answer.text)
    assert error, answer.text
    assert says in error[1]
    assert 'role="alert"' in answer.text
    shown = filled_in(answer.text)
    kept |= {"unit-4": choices["unit-4"]} if choices.get("unit-4") == "km/h" else {}
    assert {name: shown[name] for name in kept} == kept
    assert not list(workspace.inbox.glob("mapping_*"))


def test_what_would_still_be_held_is_not_handed_in(client: Client, desk: Desk) -> None:
    path = address(client, "bay/bay_export.csv")
    chosen = {**filled_in(client.get(path).text), "take-0": "", "value-player_id": "heron", "take-4": "", "take-5": ""}
    answer = client.post(path, data={**chosen, "do": "hand_in"})
    assert answer.status_code == 422
    assert "would still be held" in answer.text
    shown = client.post(path, data={**chosen, "take-4": "club_speed_mps", "do": "preview"})
    assert client.post(path, data={**filled_in(shown.text), "do": "hand_in"}).url.params["done"] == "corrected"
    assert take_in(desk)["bay/bay_export.csv"].n_loaded == 12


def delivery(desk: Desk, client: Client, n: int = 0, **other: Any) -> HandedMapping:
    """The mapping of bay/ as the desk would hand it in, with something else in it, laid into the inbox."""
    path = address(client, "bay/bay_export.csv")
    found = re.search(r"<pre[^>]*>(.*?)</pre>", client.get(path).text, re.DOTALL)
    assert found
    handed = replace(HandedMapping("bay", path.rpartition("/")[2], "", html.unescape(found[1])), **other)
    (desk.workspace.inbox / f"mapping_{n}.json").write_text(handed_text(handed), encoding="utf-8")
    return handed


REFUSED: list[tuple[dict[str, str], str]] = [
    ({"mapping": "../evil"}, "cannot be the name of a mapping"),
    ({"mapping": "names"}, "cannot be the name of a mapping"),
    ({"mapping": "bay/../../evil"}, "cannot be the name of a mapping"),
    ({"file_id": "0" * 64}, "is not held any more"),
    ({"text": "kind = 3"}, "kind is 3"),
    ({"text": TURNED}, "nothing says where"),
    ({"mapping": "old"}, "was changed since it was drafted"),
    ({"text": "# " + "x" * 300_000}, "too large"),
]


def test_intake_holds_mappings_that_are_not_to_be_put_in_place(desk: Desk, client: Client) -> None:
    before = {path.name: path.read_bytes() for path in desk.workspace.mappings.iterdir()}
    for n, (other, _) in enumerate(REFUSED):
        delivery(desk, client, n, **other)
    (desk.workspace.inbox / "mapping_99.json").write_text('{"mapping": ["bay"]}', encoding="utf-8")
    taken = take_in(desk)
    assert {(file.status, file.reason) for file in taken.values()} == {("held", "bad_mapping")}
    told = [(taken[f"mapping_{n}.json"].says, says) for n, (_, says) in enumerate(REFUSED)]
    assert [pair for pair in told if pair[1] not in pair[0]] == []
    assert "no mapping that was handed in" in taken["mapping_99.json"].says
    assert {path.name: path.read_bytes() for path in desk.workspace.mappings.iterdir()} == before
    assert not (desk.workspace.root.parent / "evil.toml").exists()
    assert len(list(desk.workspace.quarantine.glob("mapping_*.json"))) == len(REFUSED) + 1


def test_a_mapping_that_was_refused_goes_when_a_better_one_came_or_it_is_tried_again(desk: Desk, client: Client) -> None:
    delivery(desk, client, mapping="old")
    taken = take_in(desk)
    assert "was changed since" in taken["mapping_0.json"].says
    (desk.workspace.mappings / "old.toml").unlink()
    asked = AskedAgain(frozenset({taken["mapping_0.json"].file_id}))
    with open_warehouse(desk.workspace.warehouse) as con:
        again = take.take_in(desk.workspace.root, con, desk.academy, AT + timedelta(minutes=8), asked=asked).files
        assert {file.name: file.status for file in again}["old/bay_export.csv"] == "loaded"
        assert scalar(con, "select count(*) from file where name like 'mapping%'") == 0
    assert not list(desk.workspace.quarantine.glob("mapping_*"))


def test_an_intake_that_ended_half_way_is_finished_by_the_next(
    desk: Desk, client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    handed = delivery(desk, client)

    def ended(*_: object) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(take, "read_otherwise", ended)  # the mapping is in place, its file not read yet
        with pytest.raises(KeyboardInterrupt):
            take_in(desk)
    assert (desk.workspace.mappings / "bay.toml").read_text(encoding="utf-8") == handed.text
    with monkeypatch.context() as patch:
        patch.setattr(take, "settle", ended)  # the file is loaded, the delivery still lies in the inbox
        with pytest.raises(KeyboardInterrupt):
            take_in(desk)
    assert take_in(desk) == {}
    assert not list(desk.workspace.inbox.glob("*.json"))
    assert len(speeds(desk, "heron")) == 12


def test_a_mapping_that_the_page_did_not_speak_of_is_replaced_only_when_that_is_said_again(desk: Desk, client: Client) -> None:
    path = address(client, "bay/bay_export.csv")
    form = {**filled_in(client.get(path).text), "name": "old", "do": "hand_in"}
    answer = client.post(path, data=form)
    assert answer.status_code == 422
    assert "There is a mapping old already" in answer.text
    assert not list(desk.workspace.inbox.glob("mapping_*"))
    assert client.post(path, data={**filled_in(answer.text), "do": "hand_in"}).url.params["done"] == "corrected"
    assert take_in(desk)["old/bay_export.csv"].status == "loaded"


def test_a_form_sent_twice_is_one_delivery(desk: Desk, client: Client) -> None:
    path = address(client, "bay/bay_export.csv")
    form = {**filled_in(client.get(path).text), "do": "hand_in"}
    assert [client.post(path, data=form).url.params["done"] for _ in range(2)] == ["corrected"] * 2
    (file,) = desk.workspace.inbox.glob("mapping_*")
    assert json.loads(file.read_text(encoding="utf-8"))["mapping"] == "bay"


def test_the_page_speaks_german(still: tuple[Client, Workspace]) -> None:
    client, _ = still
    client.get("/language/de")
    page = client.get(address(client, "bay/bay_export.csv")).text
    assert "die Einheit steht nicht da; mph oder km/h ginge" in page
    assert "welche Seite positiv ist" in page
    assert 'lang="en"' not in page.split("<main")[1]
    assert "Schlägertempo" in page
    client.get("/language/en")


def test_an_intake_waits_for_those_who_only_read(desk: Desk) -> None:
    began = threading.Event()

    def read() -> None:
        with open_warehouse(desk.workspace.warehouse, read_only=True):  # as the preview of a large file does
            began.set()
            time.sleep(0.3)

    reader = threading.Thread(target=read)
    reader.start()
    began.wait()
    assert take_in(desk) == {}
    reader.join()
