"""Every physical line of a text file is accounted for: header, row, part of a row, blank, or a row that could not be split."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pipelines.stages.intake.batch import Incoming, assembled
from pipelines.stages.intake.csv_text import careful, plain
from pipelines.stages.intake.discover import kind_of
from pipelines.stages.intake.disk import flat_name
from pipelines.stages.intake.lists import csv_text, list_places
from pipelines.stages.intake.redact import without_rows
from pipelines.stages.intake.table import Cells, Plain, Unread
from schemas.files import KINDS


def _careful(text: str) -> Cells:
    content = careful(text.encode())
    assert isinstance(content, Cells)
    return content


def test_rows_over_several_lines_begin_where_they_begin() -> None:
    content = _careful('a,b\n1,"x\ny\n\nz"\n\n,\n2,"w"\n3,"open\n4,v\n')
    assert content.rows.rows() == [("1", "x\ny\n\nz"), ("2", "w"), ("4", "v")]
    assert content.lines.tolist() == [2, 8, 10]
    assert [(fault.line, fault.rule) for fault in content.faults] == [(9, "open_quote")]


def test_two_open_quotes_do_not_swallow_what_stands_between() -> None:
    content = _careful('a,b\n1,"open\n2,x\n3,"open too\n4,y\n')
    assert content.rows.rows() == [("2", "x"), ("4", "y")]
    assert [fault.line for fault in content.faults] == [2, 4]


def test_separators_too_many_at_the_end_are_let_go_but_cells_are_not() -> None:
    content = _careful("a,b,,\n1,2,,\n3,4,,5\n6,7\n8\n")
    assert content.rows.rows() == [("1", "2"), ("6", "7")]
    assert [(fault.line, fault.rule) for fault in content.faults] == [(3, "ragged_row"), (5, "ragged_row")]


@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_line_ends_of_all_systems_are_read(end: str) -> None:
    assert _careful(f"a,b{end}1,2{end}3,4{end}").rows.rows() == [("1", "2"), ("3", "4")]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_marks_at_the_beginning_tell_the_encoding(encoding: str) -> None:
    content = careful("a,b\nä,€\n".encode(encoding))
    assert isinstance(content, Cells)
    assert content.rows.rows() == [("ä", "€")]


def test_a_line_in_another_encoding_costs_that_line() -> None:
    content = careful("a,b\n1,ä\n2,x\n".encode("latin-1"))
    assert isinstance(content, Cells)
    assert (content.rows.rows(), content.faults[0].rule) == ([("2", "x")], "bad_encoding")


@pytest.mark.parametrize(
    ("data", "is_plain"),
    [
        (b"a,b\n1,2\n", True),
        (b"a,b\r\n1,2\r\n\r\n", True),
        (b'a,b\n1,"2, 3"\n"4",""\n', True),
        (b'a,b\n1,"say ""hi"""\n', True),
        (b'a,b\n1,"2\n3"\n', False),
        (b'a,b\n1,2"\n', False),
        (b'a,b\n1,"2"x\n', False),
        (b"a,b\n1\n", False),
        (b"a,b\n1,\xff\n", False),
        (b"a,b\n1,\0\n", False),
        (b"a,b\n\n1,2\n", False),
        (b"a,b\n1,2\n3,4\r5,6\n", False),
    ],
)
def test_only_clean_text_is_read_quickly(data: bytes, is_plain: bool) -> None:
    assert (plain(data) is not None) == is_plain


def test_a_line_too_long_and_one_too_short_are_found_though_the_separators_add_up() -> None:
    data = b"player_id,alias\nP1,x,y\nP2\nP3,z\n"
    quick = plain(data)
    assert isinstance(quick, Plain)
    (incoming,), rows = assembled(KINDS["players"], [Incoming(None, "x", data, quick)])  # type: ignore[arg-type]
    assert rows.cells.rows() == [("P3", "z")]
    assert isinstance(incoming.content, Cells)
    assert [fault.line for fault in incoming.content.faults] == [2, 3]


@pytest.mark.parametrize("body", [",\n1\n,,", "P1,a\nP2\nP3,b,"])
def test_an_empty_cell_too_many_at_the_very_end_does_not_make_up_for_one_too_few(body: str) -> None:
    data = f"player_id,alias\n{body}".encode()
    quick = plain(data)
    assert isinstance(quick, Plain)
    (incoming,), _ = assembled(KINDS["players"], [Incoming(None, "x", data, quick)])  # type: ignore[arg-type]
    assert isinstance(incoming.content, Cells)
    assert [(fault.line, fault.rule) for fault in incoming.content.faults] == [(3, "ragged_row")]


_CELL = st.text(st.sampled_from('ab1.,"\n\r ;\0äÿ='), max_size=6)


@settings(max_examples=300, deadline=None)
@given(st.lists(_CELL, max_size=14).map("".join))
def test_whatever_the_text_all_rows_are_rows_or_faults(body: str) -> None:
    """Quick and careful reading agree wherever the quick one dares; nothing raises; no line is lost."""
    data = f"player_id,alias\n{body}".encode()
    content = careful(data)
    if isinstance(content, Unread):
        return
    starts = [*content.lines.tolist(), *(fault.line for fault in content.faults)]
    assert len(set(starts)) == len(starts) == content.n_rows
    quick = plain(data)
    if isinstance(quick, Plain):
        (incoming,), rows = assembled(KINDS["players"], [Incoming(None, "x", data, quick)])  # type: ignore[arg-type]
        trimmed = [tuple((cell or "").strip() or None for cell in row) for row in rows.cells.rows()]
        kept = [(row, line) for row, line in zip(trimmed, rows.line.to_list(), strict=True) if any(row)]
        assert kept == list(zip(content.rows.rows(), content.lines.tolist(), strict=True))
        assert content.faults == () or isinstance(incoming.content, Cells)  # else it was read again with care


@pytest.mark.parametrize(
    ("name", "kind"),
    [
        ("shots_2026.csv", "shots"),
        ("Shots 3.csv", "shots"),
        ("a/b/checkins.xlsx", "checkins"),
        ("players2.csv", "players"),
        ("shot.csv", ""),
        ("my_shots.csv", ""),
    ],
)
def test_the_kind_is_the_first_word(name: str, kind: str) -> None:
    assert kind_of(name) == kind


@pytest.mark.parametrize("name", ["../../etc/passwd", "a/../b", ".hidden", "x" * 500, "ä/ö\n", "", "..."])
def test_no_name_leads_out_of_a_folder(name: str) -> None:
    flat = flat_name(name)
    assert flat
    assert "/" not in flat
    assert not flat.startswith(".")
    assert len(flat) <= 120


def test_lists_can_be_dropped_again_and_run_no_formula() -> None:
    problems, rows = list_places("0123456789abcdef", "bay/export.csv", "shots")
    assert kind_of(rows) == "shots"
    assert problems == "quarantine/bay__export.csv.01234567.problems.csv"
    assert csv_text(("a", "b"), [("x,y", None), ("=1+1", 2)]) == b'a,b\n"x,y",\n\'=1+1,2\n'


def test_a_redacted_copy_keeps_its_line_numbers() -> None:
    data = b'player_id,note\nP1,x\nP2,"a\nb"\nP1,y\n'
    copy, ending = without_rows(data, ".csv", _careful(data.decode()), (3,))
    assert (copy, ending) == (b"player_id,note\nP1,x\n\n\nP1,y\n", ".csv")
    assert _careful(copy.decode()).lines.tolist() == [2, 5]
    assert np.array_equal(_careful(data.decode()).lines, [2, 3, 5])
