from __future__ import annotations

from datetime import date, datetime, timedelta

import polars as pl

from pipelines.measures.trial.shots import TrialQuestion, trial_shots

QUESTION = TrialQuestion("t", "p", "", "normal", ("less", "normal", "more"))
BEGIN = datetime(2026, 3, 2, 9, 0)  # noqa: DTZ001 - only the order matters


def shots(order: str, blocks: list[int | None] | None = None) -> pl.DataFrame:
    """One letter a shot: n(ormal), m(ore), l(ess); a blank begins another session."""
    names = {"n": "normal", "m": "more", "l": "less", "x": "not asked"}
    rows, session, shot_no = [], 1, 0
    for place, letter in enumerate(order):
        if letter == " ":
            session, shot_no = session + 1, 0
            continue
        shot_no += 1
        rows.append(
            {
                "session_id": f"s{session}", "on_date": date(2026, 3, 1 + session), "shot_no": shot_no, "club": "driver",
                "struck_at": BEGIN + timedelta(days=session, minutes=shot_no), "arm": names[letter], "device_id": "d",
                "ball": None,
                "block_no": blocks[len(rows)] if blocks else None,
                "club_speed_mps": 45.0 + place,
                "ball_speed_mps": 60.0,
            }
        )  # fmt: skip
    return pl.DataFrame(rows, schema_overrides={"block_no": pl.Int64, "ball": pl.String})


def test_arms_are_numbered_with_normal_first_and_only_those_struck():
    found = trial_shots(shots("nnmm"), QUESTION)
    assert found.arms == ("normal", "more")
    assert found.layout.arm.tolist() == [0, 0, 1, 1]
    assert QUESTION.amount("less") == -1


def test_an_unbroken_run_is_a_block_and_a_session_ends_it():
    assert trial_shots(shots("nnmmn nnm"), QUESTION).layout.block.tolist() == [0, 0, 1, 1, 2, 3, 3, 4]


def test_block_numbers_part_two_blocks_of_one_arm():
    assert trial_shots(shots("nnnn", [1, 1, 2, 2]), QUESTION).layout.block.tolist() == [0, 0, 1, 1]


def test_an_arm_that_was_not_asked_about_is_left_out():
    assert trial_shots(shots("nxm"), QUESTION).frame.height == 2


def test_place_runs_from_minus_one_to_one_in_every_session_and_order_in_the_frame_does_not_matter():
    frame = shots("nmn mn")
    found = trial_shots(frame.reverse(), QUESTION)
    assert found.layout.position.tolist() == [-1.0, 0.0, 1.0, -1.0, 1.0]
    assert found.frame.equals(trial_shots(frame, QUESTION).frame)


def test_speed_ratio_comes_with_the_shots_and_missing_measurements_are_nan():
    found = trial_shots(shots("nm"), QUESTION)
    assert found.values("speed_ratio")[0] == 60.0 / 45.0
    assert not found.measured("carry_m")
    assert found.values("carry_m").shape == (2,)


def test_rounds_hold_every_arm_once_and_skip_what_does_not_fit():
    found = trial_shots(shots("nnmm mmnn n"), QUESTION)
    assert found.rounds == [[0, 1], [2, 3]]
    assert trial_shots(shots("nn mm"), QUESTION).rounds == []


def test_an_order_is_mixed_unless_it_never_changes():
    assert trial_shots(shots("nm mn nm nm"), QUESTION).is_mixed
    assert not trial_shots(shots("nm nm nm nm"), QUESTION).is_mixed
    assert trial_shots(shots("nm nm"), QUESTION).is_mixed
    assert [trial_shots(shots(order), QUESTION).is_drawn_alike for order in ("nm nm nm nm", "nm nm nm", "nm mn nm nm")] == [
        True,
        False,
        False,
    ]
    assert not trial_shots(shots("n" * 9 + "m" * 9 + " " + "n" * 9 + "m" * 9), QUESTION).is_drawn_alike
    assert not trial_shots(shots("n" * 9 + "m" * 9 + " " + "n" * 9 + "m" * 9), QUESTION).is_mixed
