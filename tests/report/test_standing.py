"""Pages of which only some pieces were made anew are, byte for byte, those that are made whole."""

from __future__ import annotations

import pickle
import re
from concurrent.futures import Executor, Future
from importlib import resources
from typing import TYPE_CHECKING, Any

import pytest
from markupsafe import Markup

from reports import player_work
from reports.pages import lasting, player_speed
from reports.pages.frame import NOTICED, Page, Part
from reports.pages.player import player_page
from reports.site import build_site
from reports.standing import PAGE, Asked, Known, Made, asked, entry_of, exchanged, parts_that_stand, places, told
from schemas.errors import RenderError
from tests.report.conftest import KEY, LAST_ON, academy, build
from warehouse.marts import MartCache, Marts, NotReadError, narrowed_names, players_apart

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from pathlib import Path
    from types import ModuleType

    import duckdb
    import polars as pl

    from reports.pages.context import PageContext
    from reports.standing import Entry
    from tests.report.conftest import Built
    from warehouse.marts import PlayerMarts

LASTING = """
insert into lasting_difference values
('p1', 'driver', 'club_speed_mps', 'first', '2025-01-05', 40, '2026-01-05', 44, 9.5, 6, 13, 12, 14, 1.5, true),
('p1', '', 'week_swings', 'year', '2025-01-05', 300, '2026-01-05', 310, 3.3, -20, 26, 8, 4, 22, false)
"""
EVENTS = (
    LASTING,
    "delete from load_day where player_id = 'p1' and on_date = (select max(on_date) from load_day)",
    "update trend_point set level = level * 1.01, level_high = level_high * 1.02 where player_id = 'p2'",
    "update lasting_difference set change = change + 1 where player_id = 'p1'",
    "update stroke_month set change = 0.4 where player_id = 'p1'",
    "delete from flag where player_id = 'p2' and kind = 'speed_fall'",
    "update player set handed = 'left' where player_id = 'p1'",
    "delete from body_day where player_id = 'p1'",
)


def files(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_whatever_changes_the_pages_are_those_of_a_whole_night(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    build(con, tmp_path / "site")
    for number, event in enumerate(EVENTS):
        con.execute(event).fetchall()
        build(con, tmp_path / "site")
        if number in {2, len(EVENTS) - 1}:
            assert files(tmp_path / "site") == files(build(con, tmp_path / f"whole{number}").folder), event


@pytest.mark.parametrize(("few", "n_readings"), [(0, 1), (1000, 2)])
def test_rows_of_players_who_need_many_kinds_are_read_together(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, few: int, n_readings: int
) -> None:
    build(con, tmp_path / "site")
    monkeypatch.setattr(player_work, "FEW_MARTS", few)
    readings = list[list[str]]()
    plain = MartCache.rows_of

    def noted(cache: MartCache, names: Iterable[str], player_ids: list[str]) -> dict[str, pl.DataFrame]:
        readings.append(player_ids)
        return plain(cache, names, player_ids)

    monkeypatch.setattr(MartCache, "rows_of", noted)
    for event in (EVENTS[2], EVENTS[6]):
        con.execute(event).fetchall()
    build(con, tmp_path / "site")
    assert len(readings) == n_readings
    assert {one for player_ids in readings for one in player_ids} == {"p1", "p2"}
    assert files(tmp_path / "site") == files(build(con, tmp_path / "whole").folder)


class Elsewhere(Executor):
    """Does at once what a process would do, with what it would be handed and what it would hand back."""

    def __init__(self) -> None:
        self.n_jobs = 0

    def submit(self, fn: Callable[..., Any], /, *args: Any, **kwargs: Any) -> Future[Any]:
        self.n_jobs += 1
        work, given, named = pickle.loads(pickle.dumps((fn, args, kwargs)))  # noqa: S301 - our own
        done: Future[Any] = Future()
        done.set_result(pickle.loads(pickle.dumps(work(*given, **named))))  # noqa: S301 - our own
        return done


def test_pages_that_processes_make_are_those_that_one_makes(
    con: duckdb.DuckDBPyConnection, built: Built, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(player_work, "WORTH_A_PROCESS", 1)
    monkeypatch.setattr(player_work, "_cores", lambda: 2)
    monkeypatch.setattr(player_work, "JOB", 1)
    apart = Elsewhere()
    build_site(con, academy(), tmp_path / "site", as_of=LAST_ON, sources=(), site_key=KEY, processes=lambda: apart)
    assert apart.n_jobs == 3
    assert files(tmp_path / "site") == files(built.folder)


def made_by(module: ModuleType, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Players of whom the sections of a module are made from now on."""
    made: list[str] = []
    plain = module.player_sections

    def noted(player: PlayerMarts, context: PageContext) -> object:
        made.append(player.player_id)
        return plain(player, context)

    monkeypatch.setattr(module, "player_sections", noted)
    return made


def test_only_sections_that_rest_on_what_changed_are_made(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    build(con, tmp_path / "site")
    made = made_by(player_speed, monkeypatch)
    con.execute("update load_day set minutes = 77 where player_id = 'p1'").fetchall()
    build(con, tmp_path / "site")
    assert made == []
    con.execute("update trend_point set level = level * 1.01 where player_id = 'p2'").fetchall()
    build(con, tmp_path / "site")
    assert set(made) == {"p2"}


def test_a_page_of_which_a_section_has_changed_is_not_put_together_again(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    build(con, tmp_path / "site")
    made = list[tuple[str, str]]()

    def noted(player: PlayerMarts, context: PageContext, sections: list[Part]) -> Page:
        made.append((player.player_id, context.audience))
        return player_page(player, context, sections)

    monkeypatch.setattr(player_work, "player_page", noted)
    con.execute("update trend_point set level = level * 1.01, level_high = level_high * 1.02 where player_id = 'p2'").fetchall()
    build(con, tmp_path / "site")
    assert made == [("p2", "coach")]  # whose page says that there are seasons to compare
    assert files(tmp_path / "site") == files(build(con, tmp_path / "whole").folder)


def test_what_does_not_last_is_in_no_section(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    con.execute(LASTING).fetchall()
    build(con, tmp_path / "site")
    made = made_by(lasting, monkeypatch)
    con.execute("update lasting_difference set change = change + 1 where player_id = 'p1' and not lasts").fetchall()
    build(con, tmp_path / "site")
    assert made == []
    con.execute("update lasting_difference set change = change + 1 where player_id = 'p1' and lasts").fetchall()
    build(con, tmp_path / "site")
    assert set(made) == {"p1"}


def test_what_was_not_read_is_not_taken_for_nothing(con: duckdb.DuckDBPyConnection) -> None:
    marts = Marts(con, "coach")
    player = marts.by_player(["p1"])["p1"]
    player.withheld = frozenset({"mart_trend"})
    with pytest.raises(NotReadError):
        player.part("mart_trend", metric="club_speed_mps")


def test_of_a_trend_only_the_rows_that_are_wanted_are_read_and_others_are_not_taken_for_nothing(
    con: duckdb.DuckDBPyConnection,
) -> None:
    cache = MartCache(con)
    whole = Marts(con, "coach", cache).by_player(["p1"])["p1"]
    speed = {"metric": "club_speed_mps", "club_group": "driver"}
    with whole.reading() as read:
        rows = whole.part("mart_trend", **speed)
    names = narrowed_names({*read, "mart_story"})
    assert names == {"mart_trend|club_group=driver|metric=club_speed_mps", "mart_story"}
    found = cache.rows_of(sorted(names), ["p1"])
    assert rows.height == found["mart_trend"].height > 0
    player = players_apart(found, ["p1"], "coach", narrowed=frozenset(read))["p1"]
    assert player.part("mart_trend", **speed).equals(rows)
    for other in ({"metric": "aim_deg", "club_group": "driver"}, {"metric": "club_speed_mps"}):
        with pytest.raises(NotReadError):
            player.part("mart_trend", **other)
    with pytest.raises(NotReadError):
        player.rows("mart_trend")
    assert narrowed_names({*read, "mart_trend"}) == {"mart_trend"}


def test_rows_are_told_to_those_who_may_read_them(con: duckdb.DuckDBPyConnection) -> None:
    cache = MartCache(con)
    coach, physio = Marts(con, "coach", cache), Marts(con, "physio", cache)
    group = Marts(con, "coach", cache, frozenset({"p2"}))
    assert coach.number("p1", "mart_story") == physio.number("p1", "mart_story") is not None
    assert coach.number("p1", "mart_story") != coach.number("p2", "mart_story") == group.number("p2", "mart_story")
    assert group.number("p1", "mart_story") is None
    assert physio.number("p1", "mart_flag_physio") is not None
    assert coach.number("p1", "mart_flag_physio") is None
    assert coach.number("nobody", "mart_story") is None


def test_what_is_read_once_for_many_counts_for_each(con: duckdb.DuckDBPyConnection) -> None:
    player = Marts(con, "coach").by_player(["p1"])["p1"]
    for _ in range(2):
        with player.reading() as read:
            player.once(("speed",), lambda: player.rows("mart_trend"))
            player.part("mart_lasting", metric="club_speed_mps", club_group="driver", against="year")
        assert read == {"mart_trend", "mart_lasting|against=year|club_group=driver|metric=club_speed_mps"}


def test_what_one_reader_had_made_is_not_given_to_another_who_may_not_read_it(con: duckdb.DuckDBPyConnection) -> None:
    physio = Marts(con, "physio").by_player(["p1"])["p1"]
    coach = physio.read_by("coach")
    for player in (physio, coach):
        assert player.once(("speed",), lambda: "drawn once") == "drawn once"
        assert player.once(("speed",), lambda: "drawn again") == "drawn once"
    assert physio.once(("body",), lambda: physio.rows("mart_physio_body_week").height) == 0
    with pytest.raises(RenderError, match="not for the coach"):
        coach.once(("body",), lambda: 0)
    with pytest.raises(RenderError, match="not for the coach"):
        coach.rows("mart_physio_body_week")


PATH = "coach/players/p1.html"
SPEED, LOAD = "player_speed.sections", "player_load.sections"
NUMBERS = {"mart_trend": "1", "mart_load_day": "2", "mart_player": "3"}


def part(order: int, text: str, *, body_shown: bool = False, label: str = "") -> Part:
    return Part(order, Markup(text), body_shown=body_shown, label=label)  # noqa: S704 - of the test


def stood(folder: Path, text: str, **parts: list[Part]) -> Entry:
    """What the list says of a page of these sections that lies there."""
    (folder / PATH).parent.mkdir(parents=True, exist_ok=True)
    (folder / PATH).write_bytes(text.encode())
    reads = {"speed": (SPEED, "mart_trend"), "load": (LOAD, "mart_load_day")}
    own = {reads[name][0]: sections for name, sections in parts.items()}
    found = places(own, text.encode())
    pieces = {reads[name][0]: told([reads[name][1]]) | {"parts": found[reads[name][0]]} for name in parts}
    return entry_of(Made({PATH: text.encode()}, PATH, pieces | {PAGE: told(["mart_player"]) | {"parts": []}}), NUMBERS.get)


def known(folder: Path, entry: Entry, **changed: str) -> Known:
    one = asked("p1", entry, (NUMBERS | changed).get, folder)
    assert one is not None
    assert one.known is not None
    return one.known


def test_a_section_is_found_again_in_the_old_page(tmp_path: Path) -> None:
    speed = part(20, "<section>ä</section>", label="speed")
    entry = stood(tmp_path, f"é {speed.markup} …", speed=[speed])
    assert asked("p1", entry, NUMBERS.get, tmp_path) is None
    again = asked("p1", entry, (NUMBERS | {"mart_player": "4"}).get, tmp_path)
    assert again is not None
    assert again.known is not None
    assert (again.is_stale(PAGE), again.is_stale(SPEED)) == (True, False)
    assert again.marts == frozenset({"mart_player"})
    assert parts_that_stand(again.known, again.known.page.read_bytes())[SPEED] == [speed]
    assert asked("p1", None, NUMBERS.get, tmp_path) == Asked("p1")
    assert Asked("p1").is_stale(SPEED)
    assert Asked("p1").marts is None


def test_sections_that_begin_alike_are_told_from_each_other() -> None:
    alike = "<section>" + "a" * 100
    parts = {SPEED: [part(20, f"{alike}1"), part(40, f"{alike}2")], LOAD: [part(30, f"{alike}3")]}
    page = f"{alike}0 {alike}1 {alike}9 {alike}3 {alike}2".encode()
    found = places(parts, page)
    assert [page[start:end].decode() for *_, start, end in (*found[SPEED], *found[LOAD])] == [f"{alike}{n}" for n in (1, 2, 3)]


def test_what_is_to_be_made_counts_by_its_pieces(tmp_path: Path) -> None:
    entry = stood(tmp_path, "<p>ä</p>", speed=[part(20, "<p>ä</p>")])
    little = asked("p1", entry, (NUMBERS | {"mart_load_day": "4", "mart_trend": "4"}).get, tmp_path)
    assert little is not None
    of_speed = player_work.Wanted("p1", {0: little, 1: Asked("p1")})
    assert player_work.n_whole_pages([of_speed]) == pytest.approx(1.2)
    many = Asked("p1", Known({"pieces": {}}, frozenset(map(str, range(40))), tmp_path))
    assert player_work.n_whole_pages([player_work.Wanted("p1", {0: many})]) == 1.0


TEXT = "é <p>ä</p> <p>load</p> <p>past</p> …"
PAST = part(70, "<p>past</p>")


def test_sections_are_put_in_the_places_of_the_old_ones(tmp_path: Path) -> None:
    entry = stood(tmp_path, TEXT, speed=[part(20, "<p>ä</p>"), PAST], load=[part(50, "<p>load</p>", label="load")])
    newer = part(50, "<p>more lóad</p>", label="load")
    found = exchanged(known(tmp_path, entry, mart_load_day="9"), {LOAD: [newer]}, TEXT.encode())
    assert found is not None
    page, pieces = found
    assert page.decode() == "é <p>ä</p> <p>more lóad</p> <p>past</p> …"
    assert {name: piece["parts"] for name, piece in pieces.items() if name != PAGE} == places(
        {SPEED: [part(20, "<p>ä</p>"), PAST], LOAD: [newer]}, page
    )


@pytest.mark.parametrize(
    "other",
    [
        [part(50, "<p>more</p>", label="other")],
        [part(51, "<p>more</p>", label="load")],
        [part(50, "<p>more</p>", body_shown=True, label="load")],
        [part(50, "", label="load")],
        [part(50, '<p><div class="chart"></div></p>', label="load")],
        [],
        [part(50, "<p>more</p>", label="load"), part(51, "<p>again</p>")],
    ],
    ids=["label", "order", "body shown", "empty", "needs a script", "gone", "two"],
)
def test_a_page_that_takes_notice_of_what_has_changed_is_put_together_again(other: list[Part], tmp_path: Path) -> None:
    entry = stood(tmp_path, TEXT, speed=[part(20, "<p>ä</p>"), PAST], load=[part(50, "<p>load</p>", label="load")])
    assert exchanged(known(tmp_path, entry, mart_load_day="9"), {LOAD: other}, TEXT.encode()) is None


def test_a_page_around_its_sections_that_has_changed_is_put_together_again(tmp_path: Path) -> None:
    load = part(50, "<p>load</p>", label="load")
    entry = stood(tmp_path, TEXT, load=[load])
    assert exchanged(known(tmp_path, entry, mart_load_day="9", mart_player="9"), {LOAD: [load]}, TEXT.encode()) is None


def test_a_section_that_stands_within_another_is_not_exchanged(tmp_path: Path) -> None:
    text = "<div><p>load</p></div>"
    entry = stood(tmp_path, text, speed=[part(20, text)], load=[part(50, "<p>load</p>")])
    assert exchanged(known(tmp_path, entry, mart_load_day="9"), {LOAD: [part(50, "<p>more</p>")]}, text.encode()) is None


def test_of_two_sections_that_are_alike_each_has_its_own_place(tmp_path: Path) -> None:
    text = "<p>none</p> <p>none</p>"
    entry = stood(tmp_path, text, speed=[part(20, "<p>none</p>")], load=[part(50, "<p>none</p>")])
    found = exchanged(known(tmp_path, entry, mart_load_day="9"), {LOAD: [part(50, "<p>more</p>")]}, text.encode())
    assert found is not None
    assert found[0] == b"<p>none</p> <p>more</p>"


def test_the_frame_looks_for_what_it_says_that_it_looks_for() -> None:
    text = (resources.files("reports") / "templates" / "frame.html").read_text(encoding="utf-8")
    assert set(re.findall(r"""{% if (?:'(.*?)'|"(.*?)") in noticed %}""", text)) == {
        (mark, "") if '"' in mark else ("", mark) for mark in NOTICED
    }
    assert "in page.body" not in text
