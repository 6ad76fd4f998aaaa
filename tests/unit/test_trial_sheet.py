"""The order of a sheet as text, and shots compared with it."""

from __future__ import annotations

import pytest

from pipelines.measures.trial.design import trial_design
from pipelines.measures.trial.sheet import SheetCheck, check_against_sheet, order_text, typed_order

ARMS = ("normal", "wider")
DAY = [*["normal"] * 5, *["wider"] * 5] * 3


def test_a_design_is_written_and_read_back() -> None:
    design = trial_design(ARMS, "normal", 20, 3)
    days = [design.shots.filter(design.shots["day_no"] == day)["arm"].to_list() for day in (1, 2)]
    text = order_text(days)
    assert text.startswith("8 warm-up, 5 ")
    assert [[shot.arm for shot in typed_order(part, ARMS)] for part in text.split("|")] == days


def check(*struck: list[str]) -> SheetCheck:
    return check_against_sheet([DAY, DAY], struck)


def test_a_sheet_that_was_kept_to() -> None:
    found = check(DAY, DAY)
    assert (found.planned, found.struck, found.differing, found.is_followed) == (60, 60, 0, True)
    assert found.shrinks_to == 1.0


def test_shots_that_are_missing_or_void_are_no_wrong_labels() -> None:
    found = check([arm for place, arm in enumerate(DAY) if place not in {3, 8, 17}])
    assert (found.planned, found.struck, found.differing) == (30, 27, 0)


def test_labels_that_are_shifted_by_one_are_seen() -> None:
    assert check(["wider", *DAY[:-1]]).differing == 2


def test_swapped_blocks_are_seen_and_shrink_the_result() -> None:
    swapped = [*DAY[:10], *DAY[15:20], *DAY[10:15], *DAY[20:]]
    found = check(swapped)
    assert found.differing == 10
    assert not found.is_followed
    assert found.shrinks_to == pytest.approx(1 / 3)


def test_a_day_beyond_the_sheet_is_not_compared() -> None:
    assert check(DAY, DAY, ["wider"] * 9).struck == 60


@pytest.mark.parametrize("text", ["", "5 wide", "999 normal", "5 normal,,5 wider"])
def test_what_is_no_order_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r"arm|shots"):
        typed_order(text, ARMS)
