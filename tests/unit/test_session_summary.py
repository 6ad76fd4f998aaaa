from __future__ import annotations

from datetime import date

import polars as pl
import pytest

from pipelines.measures.summary import clubs_of_sessions, main_club, session_summary
from schemas.core.summaries import SCATTER_METRICS, SESSION_CLUB, SUMMARY_METRICS


def shots(*rows: tuple[str, str, str, date, int]) -> pl.DataFrame:
    """Session, player, club, day and number of shots; every shot has a club speed of 40 m/s and nothing else."""
    group = {"driver": "driver"}
    return pl.DataFrame(
        [
            {
                "session_id": session,
                "player_id": player,
                "club_group": group.get(club, "iron"),
                "club": club,
                "on_date": on_date,
                "session_kind": "range",
                "device_id": None,
                "ball": None,
                "indoors": None,
                **dict.fromkeys(SUMMARY_METRICS),
                "club_speed_mps": 40.0,
            }
            for session, player, club, on_date, n in rows
            for _ in range(n)
        ],
        schema_overrides={
            **dict.fromkeys(SUMMARY_METRICS, pl.Float64),
            "device_id": pl.String,
            "ball": pl.String,
            "indoors": pl.Boolean,
        },
    )


OWN_COLUMNS = [name for name in SESSION_CLUB.names if name != "within_pct"]
"""What cold and tired balls make of it is known of the squad's sessions together, not of one."""


def struck(*rows: tuple[str, str, str, date, int]) -> pl.DataFrame:
    """How often each club was struck."""
    return clubs_of_sessions(shots(*rows))


def summary(frame: pl.DataFrame) -> pl.DataFrame:
    return session_summary(frame, tuple(SUMMARY_METRICS), SCATTER_METRICS)


def test_it_has_the_columns_of_its_table() -> None:
    result = summary(shots(("s1", "p1", "driver", date(2026, 1, 1), 4)))
    assert dict(result.select(OWN_COLUMNS).schema) == {name: SESSION_CLUB.polars_schema()[name] for name in OWN_COLUMNS}


def test_no_shots_give_an_empty_summary_of_the_same_columns() -> None:
    result = summary(shots(("s1", "p1", "driver", date(2026, 1, 1), 4)).clear())
    assert dict(result.select(OWN_COLUMNS).schema) == {name: SESSION_CLUB.polars_schema()[name] for name in OWN_COLUMNS}


def test_what_was_not_measured_is_null_with_a_reason_and_never_zero() -> None:
    row = summary(shots(("s1", "p1", "driver", date(2026, 1, 1), 9))).row(0, named=True)
    assert (row["carry_m_n"], row["carry_m_centre"], row["carry_m_spread"]) == (0, None, None)
    assert (row["offline_m_log_mad"], row["offline_m_log_mad_reason"]) == (None, "not_measured")
    assert (row["n_mishits"], row["mishit_rate"]) == (None, None)


@pytest.mark.parametrize(("n", "spread"), [(1, None), (2, None), (3, 0.0)])
def test_a_spread_needs_three_shots(n: int, spread: float | None) -> None:
    row = summary(shots(("s1", "p1", "driver", date(2026, 1, 1), n))).row(0, named=True)
    assert (row["club_speed_mps_centre"], row["club_speed_mps_spread"]) == (40.0, spread)


@pytest.mark.parametrize(("values", "reason"), [([1.0] * 4, "too_few"), ([1.0] * 5, "no_spread"), ([1.0, 2, 3, 4, 5], None)])
def test_scatter_says_why_it_is_missing(values: list[float], reason: str | None) -> None:
    frame = shots(("s1", "p1", "driver", date(2026, 1, 1), len(values))).with_columns(pl.Series("offline_m", values))
    row = summary(frame).row(0, named=True)
    assert row["offline_m_log_mad_reason"] == reason
    assert (row["offline_m_log_mad"] is None) == (reason is not None)


def test_the_club_most_struck_is_summarised_and_the_first_by_name_of_equals() -> None:
    day = date(2026, 1, 1)
    result = main_club(
        struck(
            ("s1", "p1", "9-iron", day, 3),
            ("s1", "p1", "5-iron", day, 5),
            ("s2", "p1", "9-iron", day, 2),
            ("s2", "p1", "7-iron", day, 2),
        )
    )
    assert result.select("session_id", "club", "n_group_shots").rows() == [("s1", "5-iron", 8), ("s2", "7-iron", 4)]


def test_the_usual_club_is_judged_by_what_was_known_on_that_day() -> None:
    rows = [
        ("s1", "p1", "7-iron", date(2026, 1, 1), 5),
        ("s2", "p1", "5-iron", date(2026, 1, 8), 8),
        ("s3", "p1", "5-iron", date(2026, 1, 9), 8),
    ]
    early = main_club(struck(*rows[:2]))
    late = main_club(struck(*rows))
    assert late["is_usual_club"].to_list() == [True, True, True]
    assert late.head(2).equals(early)
    unusual = main_club(struck(*rows, ("s4", "p1", "9-iron", date(2026, 1, 10), 4)))
    assert unusual.row(3, named=True)["is_usual_club"] is False


def test_rows_of_other_sessions_and_their_order_change_nothing() -> None:
    one = shots(("s1", "p1", "driver", date(2026, 1, 1), 9))
    both = pl.concat([shots(("s0", "p2", "driver", date(2026, 1, 2), 4)), one]).sample(fraction=1, shuffle=True, seed=1)
    assert summary(both).filter(session_id="s1").equals(summary(one))


def test_a_session_that_is_asked_for_alone_is_summarised_as_among_all() -> None:
    """The sessions before it still say which club is usual."""
    held = [("s1", "driver", 12), ("s2", "iron7", 9), ("s3", "wood3", 9), ("s4", "driver", 5)]
    frame = shots(*((name, "p1", club, date(2026, 1, day), n) for day, (name, club, n) in enumerate(held, start=1)))
    frame = frame.with_columns(
        pl.when(pl.col("club") == "wood3").then(pl.lit("driver")).otherwise("club_group").alias("club_group")
    )
    frame = frame.with_columns(carry_m=pl.int_range(pl.len()).cast(pl.Float64) ** 0.5, offline_m=pl.int_range(pl.len()) % 7.0)
    whole = summary(frame)
    asked = frame.filter(pl.col("session_id").is_in(["s3", "s4"]))
    alone = session_summary(asked, tuple(SUMMARY_METRICS), SCATTER_METRICS, clubs_of_sessions(frame))
    assert alone.equals(whole.filter(pl.col("session_id").is_in(["s3", "s4"])))
    assert alone["is_usual_club"].to_list() == [False, True]
