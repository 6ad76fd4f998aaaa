"""Each story of the invented academy is in its files: what the truth says happened can be measured in the rows."""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache

import polars as pl
import pytest

from pipelines.demo.cast import CAST
from pipelines.demo.phases import BLOCKS
from pipelines.demo.squad import Squad, squad
from pipelines.demo.stories import DECOYS, PROGRAMMES, QUIET_PLAYERS, SHIFT_FROM, SHIFT_SHARE, SHIFT_UNTIL, STORIES, TOLERATED
from pipelines.demo.truth import Story
from pipelines.measures.flags.rules import RULES


@cache
def everything() -> Squad:
    return squad(CAST, 7)


def drives(player_id: str, first: date, last: date, device: str | None = None) -> pl.DataFrame:
    own = everything().shots.filter(
        (pl.col("player_id") == player_id)
        & (pl.col("club") == "driver")
        & pl.col("counts")
        & pl.col("trial_id").is_null()
        & pl.col("on").is_between(first, last)
    )
    return own if device is None else own.filter(pl.col("device_id") == device)


def share(player_id: str, column: str, before: tuple[date, date], after: tuple[date, date], device: str | None = None) -> float:
    """Relative change of the median of a column between two spans of days."""
    values = [drives(player_id, *span, device)[column].median() for span in (before, after)]
    return values[1] / values[0] - 1.0  # type: ignore[operator]


def spread_ratio(player_id: str, before: tuple[date, date], after: tuple[date, date]) -> float:
    """Ratio of the robust left-right spreads within sessions: in degrees, so that speed and the wind of a day have no part."""

    def spread(span: tuple[date, date]) -> float:
        side = (pl.col("offline_m") / pl.col("carry_m")).arctan().degrees()
        own = drives(player_id, *span).filter(pl.len().over("session_id") >= 8)
        return float(own.select((side - side.median().over("session_id")).abs().median()).item())

    return spread(after) / spread(before)


def mean_answer(player_id: str, item: str, first: date, last: date) -> float:
    own = everything().checkins.filter((pl.col("player_id") == player_id) & pl.col("on").is_between(first, last))
    return float(own[item].mean())  # type: ignore[arg-type]


def weekly_swings(player_id: str, first: date, last: date) -> float:
    own = everything().sessions.filter((pl.col("player_id") == player_id) & pl.col("on").is_between(first, last))
    return float(own["swings_full"].sum()) / ((last - first).days + 1) * 7


@pytest.mark.parametrize(
    ("player_id", "before", "after", "expected", "device"),
    [
        ("p06", (date(2025, 9, 1), date(2025, 11, 9)), (date(2026, 3, 2), date(2026, 6, 30)), 0.050, "unit-1"),
        ("p07", (date(2026, 3, 1), date(2026, 5, 3)), (date(2026, 6, 15), date(2026, 9, 30)), -0.028, None),
        ("p16", (date(2025, 11, 24), date(2026, 4, 5)), (date(2026, 5, 18), date(2026, 9, 30)), 0.055, None),
        ("p17", (date(2026, 6, 1), date(2026, 8, 30)), (date(2026, 9, 13), date(2026, 9, 30)), -0.025, None),
        ("p19", (date(2025, 11, 1), date(2026, 1, 11)), (date(2026, 3, 9), date(2026, 6, 30)), 0.036, None),
        ("p24", (date(2025, 11, 1), date(2026, 3, 1)), (date(2026, 4, 27), date(2026, 9, 30)), 0.006, None),
    ],
)
def test_club_speed_changes_as_told(
    player_id: str, before: tuple[date, date], after: tuple[date, date], expected: float, device: str | None
) -> None:
    # form and device offsets leave up to one per cent
    assert share(player_id, "club_speed_mps", before, after, device) == pytest.approx(expected, abs=0.010)


@pytest.mark.parametrize(
    ("player_id", "before", "after", "expected"),
    [
        ("p04", (date(2025, 1, 6), date(2026, 5, 31)), (date(2026, 6, 1), date(2026, 9, 30)), 2.0),
        ("p16", (date(2025, 1, 6), date(2026, 4, 5)), (date(2026, 5, 18), date(2026, 9, 30)), 1.45),
        ("p20", (date(2025, 3, 3), date(2026, 5, 10)), (date(2026, 5, 11), date(2026, 9, 30)), 0.55),
        ("p21", (date(2024, 3, 4), date(2025, 6, 30)), (date(2025, 7, 1), date(2026, 9, 30)), 1.0),
    ],
)
def test_scatter_changes_as_told(player_id: str, before: tuple[date, date], after: tuple[date, date], expected: float) -> None:
    # wind and strike add what the story does not change
    assert spread_ratio(player_id, before, after) == pytest.approx(expected, rel=0.17)


def test_the_aim_of_one_player_moves_and_comes_back() -> None:
    def middle(first: date, last: date) -> float:
        return float(drives("p08", first, last)["direction_deg"].median())  # type: ignore[arg-type]

    shifted = middle(date(2025, 5, 12), date(2025, 6, 29)) - middle(date(2024, 3, 4), date(2025, 5, 11))
    back = middle(date(2025, 6, 30), date(2025, 10, 31)) - middle(date(2024, 3, 4), date(2025, 5, 11))
    assert shifted == pytest.approx(-4.5, abs=0.6), "a left-hander's pattern moves to the left"
    assert back == pytest.approx(0.0, abs=0.6)


def test_speed_that_does_not_reach_the_ball() -> None:
    before, after = (date(2025, 11, 1), date(2026, 1, 11)), (date(2026, 2, 9), date(2026, 3, 31))
    assert share("p15", "club_speed_mps", before, after, "unit-1") == pytest.approx(0.03, abs=0.006)
    assert share("p15", "ball_speed_mps", before, after, "unit-1") < 0.008
    assert drives("p15", *after, "unit-1")["strike_side_mm"].median() < -10  # type: ignore[operator]


def test_one_device_reads_high_for_six_weeks() -> None:
    outdoors = everything().shots.filter((pl.col("club") == "driver") & pl.col("counts") & (pl.col("device_id") == "unit-2"))
    inside = pl.col("on").is_between(SHIFT_FROM, SHIFT_UNTIL - timedelta(days=1))
    near = pl.col("on").is_between(SHIFT_FROM - timedelta(days=60), SHIFT_UNTIL + timedelta(days=60))
    speeds = outdoors.filter(near).group_by("player_id", inside.alias("inside")).agg(pl.col("club_speed_mps").median())
    wide = speeds.pivot("inside", index="player_id", values="club_speed_mps").drop_nulls()
    moved = wide.select((pl.col("true") / pl.col("false") - 1.0).median()).item()
    assert wide.height >= 15
    assert moved == pytest.approx(SHIFT_SHARE, abs=0.004)


def test_bodies_answer_as_told() -> None:
    for player_id, item, before, onset, last, more in (
        ("p11", "stiff_lower_back", date(2025, 7, 1), date(2025, 9, 11), date(2025, 9, 17), 2.0),
        ("p12", "fatigue", date(2026, 2, 1), date(2026, 5, 9), date(2026, 5, 29), 2.3),
        ("p17", "stiff_lead_wrist", date(2026, 6, 1), date(2026, 9, 8), date(2026, 9, 30), 2.2),
    ):
        rise = mean_answer(player_id, item, onset, last) - mean_answer(player_id, item, before, onset - timedelta(days=10))
        assert rise > more, (player_id, item)
    assert mean_answer("p17", "sleep_h", date(2026, 9, 6), date(2026, 9, 30)) < 6.8
    assert mean_answer("p02", "stiff_lower_back", date(2024, 3, 4), date(2026, 9, 30)) < 0.2


def test_loads_as_told() -> None:
    assert weekly_swings("p18", date(2026, 6, 29), date(2026, 9, 27)) < 0.6 * weekly_swings(
        "p18", date(2026, 3, 2), date(2026, 6, 28)
    )
    by_day = everything().sessions.filter(pl.col("player_id") == "p09")
    jump = by_day.filter(pl.col("on") == date(2026, 5, 16))["swings_full"].item()
    month = by_day.filter(pl.col("on").is_between(date(2026, 4, 16), date(2026, 5, 15)))["swings_full"].max()
    assert jump > 1.6 * month
    flat = everything().sessions.filter(
        (pl.col("player_id") == "p10") & pl.col("on").is_between(date(2025, 9, 1), date(2025, 9, 25))
    )
    assert flat.height >= 23
    assert (flat["kind"] != "rest").all()


def test_who_falls_silent_leaves_nothing() -> None:
    for frame in (everything().sessions, everything().shots, everything().checkins, everything().problems):
        assert frame.filter((pl.col("player_id") == "p14") & (pl.col("on") >= date(2026, 8, 10))).is_empty()


def test_a_reporter_of_sixty_per_cent_answers_on_sixty_per_cent_of_days() -> None:
    answers = everything().checkins.filter(pl.col("player_id") == "p23").height
    assert answers / (date(2026, 9, 30) - date(2025, 1, 6)).days == pytest.approx(0.6, abs=0.05)


def test_the_cold_week_shortens_everybody_and_slows_nobody() -> None:
    outdoors = everything().shots.filter(
        (pl.col("club") == "driver") & pl.col("counts") & (pl.col("device_id") == "unit-2") & pl.col("trial_id").is_null()
    )
    cold = outdoors.filter(pl.col("on").is_between(date(2026, 4, 13), date(2026, 4, 19)))
    usual = outdoors.filter(pl.col("on").is_between(date(2026, 4, 20), date(2026, 5, 31)))
    both = (
        frame.group_by("player_id").agg(pl.col("carry_m", "club_speed_mps").median()).sort("player_id") for frame in (cold, usual)
    )
    joined = next(both).join(next(both), on="player_id", suffix="_usual")
    carry = joined.select((pl.col("carry_m") / pl.col("carry_m_usual") - 1.0).median()).item()
    speed = joined.select((pl.col("club_speed_mps") / pl.col("club_speed_mps_usual") - 1.0).median()).item()
    assert carry < -0.03
    assert abs(speed) < 0.01


def story_id(story: Story) -> str:
    return f"{story.player_id or story.device_id}-{story.kind}"


@pytest.mark.parametrize("story", STORIES, ids=story_id)
def test_stories_name_a_flag_kind_a_player_and_days_in_order(story: Story) -> None:
    assert story.kind in RULES
    assert story.onset_on < story.latest_on <= date(2026, 9, 30)
    players = {player.player_id: player for player in CAST}
    if story.player_id:
        assert players[story.player_id].joined_on < story.onset_on - timedelta(days=60), "there is a normal before it"
        assert players[story.player_id].left_on is None or players[story.player_id].left_on > story.latest_on  # type: ignore[operator]
    assert story.note.endswith(".")


def test_truth_covers_every_kind_of_flag_and_keeps_quiet_players_out() -> None:
    assert {story.kind for story in STORIES} == set(RULES)
    assert not {story.player_id for story in STORIES} & set(QUIET_PLAYERS)
    assert not {item.player_id for item in TOLERATED} & set(QUIET_PLAYERS)
    assert {item.kind for item in TOLERATED} | {kind for decoy in DECOYS for kind in decoy.silent} <= set(RULES)


def test_the_squad_is_mixed() -> None:
    ages = [2025 - player.birth_year for player in CAST]
    assert (min(ages), max(ages)) == (14, 71)
    assert {player.handed for player in CAST} == {"right", "left"}
    assert {player.sex for player in CAST} == {"male", "female"}
    assert len({player.alias for player in CAST}) == len(CAST) == 24


def test_blocks_of_the_plan_are_those_whose_effect_is_known() -> None:
    told = {(one.player_id, one.phase, one.from_on) for one in PROGRAMMES}
    open_blocks = {("p03", "technique block"), ("p01", "technique block")}
    planned = {(who, phase, first) for who, first, _, phase in BLOCKS if (who, phase) not in open_blocks}
    assert told == planned


def test_light_practice_on_every_day_is_even_and_easy() -> None:
    own = everything().sessions.filter(
        (pl.col("player_id") == "p23") & pl.col("on").is_between(date(2026, 1, 12), date(2026, 1, 25))
    )
    assert own.height >= 12
    assert own["swings_full"].max() <= 32  # type: ignore[operator]
