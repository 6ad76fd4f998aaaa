from __future__ import annotations

import datetime as dt
import re
from importlib.resources import files

import pytest
from markupsafe import Markup

from reports.sparkline import HEIGHT, WIDTH, shared_scale, sparkline
from reports.tables import MOST_LABELLED, Cell, Head, Row, day_cell, table

HEADS = [Head("Player", first=True), Head("Speed", "mph", number=True)]


def test_the_first_column_names_the_row_and_numbers_stand_right() -> None:
    shown = table(HEADS, [["A", "101.2"]], caption="All")
    assert '<th scope="row">A</th>' in shown
    assert '<td class="number">101.2</td>' in shown
    assert "<caption" in shown
    assert "data-sort" not in shown
    assert '<td class="number" data-label="Speed, mph">101.2</td>' in table(HEADS, [["A", "101.2"]], caption="All", kind="stack")


def test_a_sortable_table_has_buttons_and_values() -> None:
    shown = table(HEADS, [["A", Cell("fast", 45.5)], ["B", Cell("–")]], caption="All", sortable=True)
    assert '<button type="button" data-sort="1">' in shown
    assert 'data-value="45.5"' in shown
    assert "data-value" not in table(HEADS, [["A", Cell("fast", 45.5)], ["B", Cell("–")]], caption="All")


def test_text_from_files_is_text() -> None:
    shown = table(HEADS, [Row([Cell("<script>", note='"><b'), "1"], find='a" onclick="x', tags=("a",))], caption='<i>"')
    assert "<script>" not in shown
    assert "<b" not in shown.replace("<button", "").replace("<tbody", "")
    assert 'onclick="x"' not in shown


def test_each_cell_is_escaped_unless_it_is_markup() -> None:
    shown = table(HEADS, [["<a>", "1"], [Markup("<b>B</b>"), "<2>"], ["A", "1"]], caption="All")
    rows = ['<tr><th scope="row">&lt;a&gt;</th><td class="number">1</td></tr>']
    rows += ['<tr><th scope="row"><b>B</b></th><td class="number">&lt;2&gt;</td></tr>']
    rows += ['<tr><th scope="row">A</th><td class="number">1</td></tr>']
    assert f"<tbody>{''.join(rows)}</tbody>" in shown


def test_long_tables_leave_the_labels_of_their_cells_to_the_script() -> None:
    assert "data-label" not in table(HEADS, [["A", "1"]] * (MOST_LABELLED + 1), caption="All", kind="stack")


def test_a_row_of_another_length_is_refused() -> None:
    with pytest.raises(ValueError, match="zip"):
        table(HEADS, [["A"]], caption="All")


def test_small_lines_share_a_scale_and_keep_their_gaps() -> None:
    scale = shared_scale([[1.0, 3.0], [10.0, None, 14.0]])
    assert scale.span == 4.0
    shown = sparkline([10.0, 12.0, None, 14.0], scale, "ten to fourteen")
    assert shown.count("<polyline") == 1
    assert 'class="end"' in shown
    assert 'aria-label="ten to fourteen"' in shown
    assert f'viewBox="0 0 {WIDTH} {HEIGHT}"' in shown


def test_nothing_known_draws_nothing() -> None:
    assert sparkline([None, None], shared_scale([]), "none") == ""
    assert shared_scale([[5.0, 5.0]]).span > 0


def test_a_day_stays_on_one_line_and_sorts_by_itself() -> None:
    """In the printed programme a day stood on three lines."""
    printed = table([Head("From")], [[day_cell("24 Aug 2026", dt.date(2026, 8, 24))]], caption="c", sortable=True)
    assert '<time datetime="2026-08-24">24 Aug 2026</time>' in printed
    assert 'data-value="2026-08-24"' in printed
    assert "time { white-space: nowrap; }" in (files("reports") / "static" / "print.css").read_text("utf-8")


def test_a_wide_table_shows_on_a_phone_that_it_goes_on() -> None:
    """It was cut in the middle of a word, with nothing that told of the rest."""
    rules = (files("reports") / "static" / "print.css").read_text("utf-8")
    shades = re.search(r"@media screen \{ \.scroll \{ background:(.*?)\} \}", rules, re.DOTALL)
    assert shades
    assert (shades[1].count(" local"), shades[1].count(" scroll")) == (2, 2)
