"""Pages of an academy with one player: nothing is told of "1 players", and nobody is set beside themselves."""

from __future__ import annotations

import html
import re
from typing import TYPE_CHECKING

import pytest

from reports.words import LANGUAGES, NARROW_SPACE, words
from tests.report.conftest import build

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import duckdb

    from reports.words import Words


def plurals(told: Words) -> Iterator[str]:
    """The plural of everything that is counted, where it differs from the singular."""
    for key, many in told.texts.items():
        one = told.texts.get(f"{key.removesuffix('.other')}.one", "")
        if key.endswith(".other") and many.startswith("{n} ") and one.startswith("{n} "):
            last, first = re.match(r"\w+", many[4:]), re.match(r"\w+", one[4:])
            if last and first and last[0] != first[0]:
                yield last[0]


def leave_one(con: duckdb.DuckDBPyConnection) -> None:
    """Takes all players but one out of every table."""
    told = "select table_name from information_schema.columns join information_schema.tables using (table_name) "
    tables = con.execute(f"{told} where column_name = 'player_id' and table_type = 'BASE TABLE'").fetchall()
    for (table,) in sorted(set(tables)):
        con.execute(f"delete from \"{table}\" where player_id <> 'p1'").fetchall()


@pytest.mark.parametrize("language", LANGUAGES)
def test_of_one_nothing_is_said_in_the_plural(con: duckdb.DuckDBPyConnection, tmp_path: Path, language: str) -> None:
    leave_one(con)
    build(con, tmp_path / "site", language)
    counted = sorted(set(plurals(words(language))))
    assert len(counted) > 20
    of_one = re.compile(rf"(?<![\d.,\N{{MINUS SIGN}}-])\b1 (?:{'|'.join(counted)})\b[^<\"]{{0,40}}")
    for path in sorted((tmp_path / "site").rglob("*.html")):
        page = html.unescape(path.read_text(encoding="utf-8")).replace(NARROW_SPACE, " ")
        assert of_one.findall(page) == [], path


def test_one_player_with_one_season_is_not_set_beside_themselves(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    leave_one(con)
    build(con, tmp_path / "site")
    page = (tmp_path / "site" / "coach" / "compare.html").read_text(encoding="utf-8")
    assert words("en")("compare.single") in page
    assert words("en")("compare.same") not in page
    assert "<table" not in page


def test_of_nobody_who_has_agreed_there_is_no_empty_table(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    con.execute("update player set health_consent = false").fetchall()
    for table in ("checkin", "answering"):
        con.execute(f"delete from {table}").fetchall()
    build(con, tmp_path / "site")
    page = (tmp_path / "site" / "physio" / "squad-health.html").read_text(encoding="utf-8")
    assert words("en")("squad_health.answering_nobody") in page
    assert "<tbody></tbody>" not in page
