"""The built site as files: links, weight, policy, bytes, and what is made anew."""

from __future__ import annotations

import datetime as dt
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from pipelines.measures.references import BIBLIOGRAPHY
from reports.pages import methods
from reports.pages.context import page_context
from reports.pages.frame import POLICY, Page, Surroundings, framed
from reports.shared_files import shared_names
from reports.tokens import player_token
from schemas.errors import RenderError
from tests.report.conftest import KEY, LAST_ON, Built, academy, build, flags, insert, row
from warehouse.marts import Marts

if TYPE_CHECKING:
    import duckdb

KILOBYTES_A_PAGE = 200


class Links(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.targets: list[str] = []
        self.ids: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        self.targets += [str(found[name]) for name in ("href", "src") if found.get(name) and tag != "img"]
        self.ids += [str(found["id"])] if "id" in found else []


def read(path: Path) -> Links:
    links = Links()
    links.feed(path.read_text(encoding="utf-8"))
    return links


def html(built: Built) -> list[Path]:
    return sorted(built.folder.rglob("*.html"))


def test_every_link_finds_its_page_and_its_place(built: Built) -> None:
    broken = []
    for page in html(built):
        for target in read(page).targets:
            if target.startswith("data:"):
                continue
            name, _, place = target.partition("#")
            found = (page.parent / name.split("?")[0]).resolve() if name else page
            if not found.is_file() or (place and place not in read(found).ids):
                broken.append((str(page.relative_to(built.folder)), target))
    assert broken == []


def test_an_id_stands_once_on_a_page(built: Built) -> None:
    assert {page.name: ids for page in html(built) if len(ids := read(page).ids) != len(set(ids))} == {}


def test_no_link_leaves_its_readers_folder(built: Built) -> None:
    for page in html(built):
        room = built.folder / page.relative_to(built.folder).parts[0]
        for target in read(page).targets:
            if not target.startswith("data:"):
                assert (page.parent / target.split("#")[0].split("?")[0]).resolve().is_relative_to(room.resolve())


def test_a_page_is_light_and_has_a_strict_policy(built: Built) -> None:
    for page in html(built):
        text = page.read_text(encoding="utf-8")
        assert len(text.encode()) <= KILOBYTES_A_PAGE * 1024, page
        assert f'content="{POLICY}"'.replace("'", "&#39;") in text
    assert "unsafe" not in POLICY
    assert "http" not in POLICY


def test_every_page_has_one_title_and_a_language(built: Built) -> None:
    for page in html(built):
        text = page.read_text(encoding="utf-8")
        assert text.count("<h1>") == 1
        assert '<html lang="en" data-running=' in text


def test_no_line_ends_between_a_number_and_its_unit(built: Built) -> None:
    parted = {
        page.name: found
        for page in html(built)
        if (found := re.findall(r"\d (?:%|mph|yd|m/s|rpm)(?!\w)", re.sub(r"<[^>]*>", "", page.read_text(encoding="utf-8"))))
    }
    assert parted == {}


def test_no_line_ends_there_in_the_list_of_sources_either(con: duckdb.DuckDBPyConnection) -> None:
    context = page_context(academy(), "coach", LAST_ON, tuple(BIBLIOGRAPHY.values()))
    (page,) = methods.pages(Marts(con, "coach"), context)
    told = re.sub(r"<[^>]*>", "", page.body)
    assert re.search(r"\d\u202f%", told)
    assert re.findall(r".{20}\d (?:%|mph|yd|m/s|rpm)(?!\w)", told) == []


def test_every_chart_has_words_and_most_have_a_table(built: Built) -> None:
    text = built.text("coach/players/p1.html")
    figures = re.findall(r"<figure.*?</figure>", text, re.DOTALL)
    assert len(figures) >= 4
    for figure in figures:
        assert re.search(r'role="img" aria-label="[^"]{20,}"', figure)
        assert re.search(r"<figcaption>.{20,}</figcaption>", figure, re.DOTALL)
        assert '<details class="behind">' in figure


def test_the_same_rows_give_the_same_bytes(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    first, second = build(con, tmp_path / "one"), build(con, tmp_path / "two")
    for page in sorted(first.folder.rglob("*")):
        if page.is_file():
            assert page.read_bytes() == (second.folder / page.relative_to(first.folder)).read_bytes(), page


def test_only_what_changed_is_made_anew(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    whole = build(con, tmp_path / "site").outcome
    again = build(con, tmp_path / "site").outcome
    assert (again.n_written, again.n_unchanged) == (0, whole.n_written)
    con.execute("update player set alias = 'Robin' where player_id = 'p2'").fetchall()
    after = build(con, tmp_path / "site").outcome
    assert 3 <= after.n_written < whole.n_written / 2
    assert "Robin" in (tmp_path / "site/coach/players/p2.html").read_text()


def test_a_player_who_is_erased_leaves_no_page(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    build(con, tmp_path / "site")
    con.execute("delete from player where player_id = 'p2'").fetchall()
    for table in ("session", "shot", "session_club", "trend_point"):
        con.execute(f"delete from {table} where player_id = 'p2'").fetchall()
    build(con, tmp_path / "site")
    assert [path for path in (tmp_path / "site").rglob("*") if "p2" in path.name or player_token("p2", KEY) in str(path)] == []
    assert "Wren" not in "".join(path.read_text() for path in (tmp_path / "site").rglob("*.html"))


def test_the_coach_reads_nothing_of_the_body(built: Built) -> None:
    coach = "".join(
        path.read_text(encoding="utf-8") for path in (built.folder / "coach").rglob("*.html") if path.name != "methods.html"
    )
    for flag in flags():
        if flag["audience"] == "physio":
            assert flag["flag_id"] not in coach
    assert "Stiffness of the" not in coach
    assert "weekly form reports" not in coach


def test_a_mart_is_refused_to_a_reader_it_is_not_for(con: duckdb.DuckDBPyConnection) -> None:
    with pytest.raises(RenderError, match="not for the coach"):
        Marts(con, "coach").rows("mart_flag_physio")
    with pytest.raises(RenderError, match="no mart called"):
        Marts(con, "coach").rows("mart_nothing")
    with pytest.raises(RenderError, match="not for the player"):
        Marts(con, "player").by_player(["p1"])["p1"].rows("mart_squad")


def test_a_path_that_is_not_file_safe_is_refused() -> None:
    from reports.pages.context import page_context  # noqa: PLC0415
    from reports.pages.parts import joined  # noqa: PLC0415

    one = page_context(academy(), "coach", LAST_ON)
    for path in ("../x.html", "/x.html", "a/../b.html", "x.txt", "<b>.html", "a//b.html"):
        with pytest.raises(RenderError, match="file-safe"):
            framed(Page(path, "t", joined([])), one, Surroundings((), shared_names(one)))


def test_a_minors_own_page_speaks_to_two(built: Built) -> None:
    young, grown = (built.text(f"players/{player_token(player, KEY)}/index.html") for player in ("p1", "p2"))
    assert "whoever looks after you" in young
    assert "whoever looks after you" not in grown


def test_today_without_any_flag_says_so(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    con.execute("delete from flag").fetchall()
    build(con, tmp_path / "site")
    assert (
        "Nobody needs a look on 15 March 2026: no flag for the coach is open." in (tmp_path / "site/coach/index.html").read_text()
    )


def test_an_empty_academy_has_pages_too(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    tables = con.execute(
        "select table_name from duckdb_tables() where table_name not in ('academy', 'club', 'migration', 'view_state')"
    )
    for (table,) in tables.fetchall():
        con.execute(f'delete from "{table}"').fetchall()
    build(con, tmp_path / "site", "de")
    assert "Kein Hinweis für den Coach ist offen" in (tmp_path / "site/coach/index.html").read_text()


def test_many_messages_are_folded(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    insert(con, "player", [row("player", player_id=f"m{n}", alias=f"Bird {n}") for n in range(20)])
    told = {"kind": "quiet", "level": "notice", "audience": "both", "raised_on": LAST_ON - dt.timedelta(days=9), "value": 11.0}
    more = [row("flag", flag_id=f"M{n}", player_id=f"m{n}", **told) for n in range(20)]
    insert(con, "flag", more)
    build(con, tmp_path / "site")
    assert "10 more" in (tmp_path / "site/coach/index.html").read_text()


def test_players_are_turned_over_by_name(built: Built) -> None:
    first, last = built.text("coach/players/p1.html"), built.text("physio/players/p2.html")
    assert '<a rel="next" href="../players/p3.html">Next: Stork</a>' in first
    assert 'rel="prev"' not in first
    assert '<a rel="prev" href="../players/p3.html">Previous: Stork</a>' in last
    assert 'rel="next"' not in last
    own = next(path for path in built.folder.glob("players/*/index.html"))
    assert "neighbours" not in own.read_text(encoding="utf-8")


def test_shots_then_and_now_stand_side_by_side_in_one_scale(built: Built) -> None:
    text = built.text("coach/players/p1.html")
    assert "Then, " in text
    frames = {part.split("</script>")[0].split('"frame":')[1].split("}")[0] for part in text.split('data-kind="pattern"')[1:]}
    assert text.count('data-kind="pattern"') == 2
    assert len(frames) == 1
