"""Text from files is shown as text: forty injection payloads in every free text column never become markup."""

from __future__ import annotations

import datetime as dt
import re
from html.parser import HTMLParser
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from reports.chart_rows import script_safe
from schemas.core import core_tables
from schemas.files import KINDS
from tests.report.conftest import LAST_ON, Built, build, fill, insert, row
from warehouse.connection import open_warehouse

if TYPE_CHECKING:
    import duckdb

PAYLOADS = tuple((Path(__file__).parent / "payloads.txt").read_text(encoding="utf-8").splitlines())
EVERYTHING = " ".join(PAYLOADS)
FREE = frozenset(
    column.name
    for kind in KINDS.values()
    for column in kind.columns
    if column.field.kind == "text" and not column.field.allowed and not column.field.pattern
) | {"name", "value", "allowed", "hint", "column", "rule", "row_key", "mapping", "course"}
"""Columns that hold what somebody wrote; the others are ids and words that the contracts allow."""

ALLOWED_TAGS = frozenset(
    (
        *(
            "wbr",  # bare, where a name of a file may go on in the next line
            "html",
            "head",
            "meta",
            "title",
            "link",
            "script",
            "body",
            "header",
            "nav",
            "main",
            "footer",
            "section",
            "div",
            "p",
            "a",
        ),
        *("h1", "h2", "h3", "ul", "ol", "li", "dl", "dt", "dd", "span", "strong", "b", "br", "em", "sup", "time", "img"),
        *("table", "caption", "thead", "tbody", "tr", "th", "td", "button", "figure", "figcaption", "details", "summary"),
        *("label", "input", "select", "option", "output", "svg", "polyline", "circle", "rect", "line", "path", "text", "g"),
    )
)


class Seen(HTMLParser):
    """Every element with its attributes, and the text of scripts that would run."""

    def __init__(self) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.text: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def faults(html: str) -> list[str]:
    """What a page holds that only an injected text could have put there."""
    seen = Seen()
    seen.feed(html)
    found = []
    for tag, attributes in seen.elements:
        if tag not in ALLOWED_TAGS:
            found.append(f"<{tag}>")
        found += [f"{tag} {name}" for name in attributes if name.startswith("on") or name in {"style", "srcdoc", "action"}]
        runs = tag == "script" and attributes.get("type") != "application/json"
        if runs and not re.fullmatch(r"(\.\./)*assets/[a-z]+-[0-9a-f]{10}\.js", attributes.get("src") or ""):
            found.append(f"script {attributes}")
        target = attributes.get("href") or attributes.get("src") or ""
        if target and not re.fullmatch(r"data:,|[A-Za-z0-9_./#?-]+", target):
            found.append(f"{tag} -> {target}")
    return found


def spoil(con: duckdb.DuckDBPyConnection) -> None:
    """Put all payloads at once into every free text column of every table."""
    for table in core_tables().values():
        for column in table.columns:
            if column.kind == "text" and column.name in FREE and table.name not in {"club", "night_state", "academy"}:
                con.execute(f'update "{table.name}" set "{column.name}" = ?', [EVERYTHING]).fetchall()
    con.execute("update academy set name = ?", [EVERYTHING]).fetchall()


def every_kind(con: duckdb.DuckDBPyConnection) -> None:
    """At least one row of every kind of file, and forty players, one for each payload."""
    insert(
        con, "trial", [row("trial", trial_id="t1", player_id="p1", question="q", normal_arm="n", arms="n|m", began_on=LAST_ON)]
    )
    insert(con, "problem_report", [row("problem_report", player_id="p1", week_ending=LAST_ON, region="other", participation=1)])
    insert(con, "absence", [row("absence", player_id="p1", began_on=LAST_ON, kind="other")])
    insert(con, "mobility", [row("mobility", player_id="p1", date=LAST_ON, test="other", value_deg=40.0)])
    insert(con, "round", [row("round", player_id="p1", played_on=LAST_ON)])
    insert(con, "named_change", [row("named_change", player_id="p1", changed_on=LAST_ON, kind="other")])
    insert(con, "player", [row("player", player_id=f"h{number}", alias=text) for number, text in enumerate(PAYLOADS)])
    flags = [
        row("flag", flag_id=f"H{number}", player_id=f"h{number}", kind=text, level="alert", audience="both", raised_on=LAST_ON,
            region=text, reasons=[text], strength=1.0)
        for number, text in enumerate(PAYLOADS)
    ]  # fmt: skip
    insert(con, "flag", flags)
    insert(
        con, "decision", [row("decision", flag_id="H1", decided_on=LAST_ON, role="coach", decision=PAYLOADS[1], note=EVERYTHING)]
    )
    problems = [
        row(
            "problem",
            file_id="a" * 64,
            line=number,
            column=text,
            value=text,
            rule=text,
            allowed=text,
            hint=text,
            severity="error",
        )
        for number, text in enumerate(PAYLOADS)
    ]
    insert(con, "problem", problems)
    devices = [
        row("session", session_id=f"h{number}", player_id=f"h{number}", kind="range", device_id=f"d{number}",
            started_at=dt.datetime.combine(LAST_ON, dt.time(9)), note=text)
        for number, text in enumerate(PAYLOADS)
    ]  # fmt: skip
    insert(con, "session", devices)


@pytest.fixture(scope="module")
def spoilt(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """Two sites: every column spoilt at once, beside forty players each with one payload."""
    folder = tmp_path_factory.mktemp("hostile")
    with open_warehouse(folder / "a.duckdb") as con:
        fill(con)
        every_kind(con)
        one = build(con, folder / "each")
        spoil(con)
        build(con, folder / "all", "de")
    return one


def test_there_are_forty_payloads_and_every_kind_of_file_has_a_row(con: duckdb.DuckDBPyConnection) -> None:
    every_kind(con)
    assert len(set(PAYLOADS)) == 40
    empty = [kind.table for kind in KINDS.values() if not con.execute(f'select 1 from "{kind.table}" limit 1').fetchall()]
    assert empty == []


@pytest.mark.parametrize("site", ["each", "all"])
def test_no_payload_becomes_markup(spoilt: Built, site: str) -> None:
    pages = sorted((spoilt.folder.parent / site).rglob("*.html"))
    assert len(pages) > 40
    assert {page.name: found for page in pages if (found := faults(page.read_text(encoding="utf-8")))} == {}


def test_a_payload_is_shown_as_it_was_written(spoilt: Built) -> None:
    seen = Seen()
    seen.feed(spoilt.text("coach/squad.html"))
    shown = "".join(seen.text)
    assert [text for text in PAYLOADS if text not in shown] == []


def test_the_check_itself_finds_what_it_should() -> None:
    for text in ("<script>x</script>", "<img src=x onerror=y>", "<a href='javascript:x'>", "<zq>", "<p style='x'>"):
        assert faults(text)


@pytest.mark.parametrize("text", PAYLOADS)
def test_no_payload_ends_a_script_element(text: str) -> None:
    safe = script_safe({"alias": text})
    assert not set(safe) & set("<>&")
