"""Drafts of foreign layouts that were written down apart from the word lists, each with its right reading.

``layouts``: 37 layouts. ``layouts_apart``: 31 more, written later. ``layouts_third``: 30 more, written when the first two were in
sight. Of the columns that a careful reader can be certain of, the drafts were right and sure about 58 %, 52 % and 74 % when each
set was first tried, with 0, 10 and 1 wrong and sure; the shares below are those with the sets in sight.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.reference.draft_layouts import WRONG_AND_SURE, score_layouts

DATA = Path(__file__).parents[1] / "data"


@pytest.mark.parametrize(
    ("name", "n", "least"), [("layouts", 306, 0.94), ("layouts_apart", 287, 0.97), ("layouts_third", 283, 0.93)]
)
def test_most_columns_are_right_and_sure_and_none_is_wrong_and_sure(name: str, n: int, least: float, tmp_path: Path) -> None:
    score = score_layouts(DATA / name, tmp_path)
    assert score.outcomes[WRONG_AND_SURE] == 0, [text for text in score.told if WRONG_AND_SURE in text]
    assert score.n_may_be_sure == n
    assert score.share >= least
