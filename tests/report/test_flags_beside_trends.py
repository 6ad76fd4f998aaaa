"""What a flag says beside the numbers that are printed with it, and what a trend says beside the flags."""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING

import polars as pl
import pytest

from reports.findings.flags import _likely, _today, flag_evidence
from reports.findings.reach import reach_sentence
from reports.findings.today import messages
from reports.findings.trend import trend_sentence
from reports.numbers import Numbers
from reports.story import Story, as_flagged
from reports.words import NARROW_SPACE, words
from schemas.academy import Units
from tests.report.conftest import build, flags
from tests.report.test_flags_of_today import SEEN
from tests.report.test_sentences import EN, NUMBERS, UNITS, flag, plain, trend

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb


def test_of_a_change_no_more_is_likely_than_is_printed_of_it() -> None:
    """95.06 mph after 97.54 is 2.48, but 95.1 after 97.5 reads 2.4: "about 2.5 of that" cannot be."""
    mph = 0.44704
    row = SEEN | {"value": 95.06 * mph, "baseline": 97.54 * mph, "reasons": [f"likely={100 * math.log(95.06 / 97.54)}"]}
    assert _likely(row, Numbers(words("en"), Units("mph", "yd"))) == f" About 2.4{NARROW_SPACE}mph of that is likely to be real."


def test_the_interval_of_a_direction_says_to_which_side_its_ends_lie() -> None:
    row = flag("aim_shift", metric="aim_deg", club_group="iron", value=-1.0, baseline=0.2, low=-2.2, high=0.3)
    assert plain(flag_evidence(row, EN, UNITS)).startswith("90 % interval 2.2° left to 0.3° right")


@pytest.mark.parametrize(
    ("metric", "club", "is_stalled", "stopped"),
    [
        ("club_speed_mps", "driver", True, True),
        ("club_speed_mps", "driver", False, False),
        ("club_speed_mps", "iron", True, False),
        ("scatter_side_m", "driver", True, False),
    ],
)
def test_a_rise_has_stopped_only_where_a_flag_says_so(metric: str, club: str, is_stalled: bool, stopped: bool) -> None:
    record = Story(trend(is_stalled=is_stalled), None, None, ())
    said = trend_sentence(as_flagged(trend(metric=metric, club_group=club, state="stalled"), record), NUMBERS)
    assert said.startswith("The rise of") is stopped
    assert not trend_sentence(as_flagged(trend(state="stalled"), Story(None, None, None, ())), NUMBERS).startswith("The rise of")


def test_a_figure_whose_caption_reads_flags_is_made_for_every_reader(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    """What is made once for several readers reads no mart of one of them: a night ended with it."""
    con.execute("delete from trend_point where metric = 'wild_pct'").fetchall()
    con.execute(
        "insert into trend_point select * replace ('wild_pct' as metric) from trend_point where metric = 'club_speed_mps'"
    ).fetchall()
    build(con, tmp_path / "site")
    for reader in ("coach", "physio"):
        assert "share of wild shots" in (tmp_path / "site" / reader / "players" / "p1.html").read_text(encoding="utf-8")


def test_strokes_saved_are_told_without_a_sign_in_sentence_evidence_and_today() -> None:
    row = flag("strokes_better", metric="strokes", value=-1.8, baseline=0.0, low=-2.5, high=-1.1)
    assert plain(flag_evidence(row, EN, UNITS)) == "90 % interval 1.1 to 2.5 strokes less"
    later = row | {"said_on": dt.date(2026, 6, 30), "now_on": dt.date(2026, 9, 30), "closed_on": None}
    said = {now: plain(_today(later | {"now_value": now}, NUMBERS)) for now in (-3.0, 0.4, -0.02)}
    assert said[-3.0].endswith("now it is 3.0 strokes less than before.")
    assert said[0.4].endswith("now it is 0.4 strokes more than before.")
    assert said[-0.02].endswith("now it is the same as before.")


def test_a_gain_that_is_a_notice_is_no_message_for_the_physio() -> None:
    one = flags()[0] | {"level": "notice", "closed_on": None, "decision": None}
    rows = [one | {"flag_id": f"F{at}", "player_id": f"p{at}", "kind": kind} for at, kind in enumerate(("speed_rise", "quiet"))]
    frame = pl.DataFrame(rows, infer_schema_length=None).with_columns(closed_on=pl.lit(None, dtype=pl.Date))
    assert [message.lead["kind"] for message in messages(frame, body_first=True)] == ["quiet"]
    assert {message.lead["kind"] for message in messages(frame, body_first=False)} == {"speed_rise", "quiet"}
    good = frame.with_columns(level=pl.lit("alert"))
    assert {message.mark for message in messages(good, body_first=True)} == {"alert", "good"}


def test_what_follows_club_speed_is_told_with_its_interval_or_as_not_known() -> None:
    carry = trend(metric="comparable_carry_m", change_28=None)
    said = plain(
        reach_sentence(
            {"club_speed_mps": trend(), "ball_speed_mps": trend(metric="ball_speed_mps"), carry["metric"]: carry}, NUMBERS
        )
    )
    assert "ball speed +0.4 % (90 % interval " in said
    assert said.endswith("of comparable carry too few sessions to say.")
