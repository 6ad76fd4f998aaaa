"""What an open flag says of today beside its own day: value, interval, and how much of it is likely to be real."""

from __future__ import annotations

import datetime as dt
import math
from typing import Any

from reports.findings.flags import _is_mostly_luck, _likely, _today, flag_evidence, flag_sentence
from reports.numbers import Numbers
from reports.words import NARROW_SPACE, words
from schemas.academy import Units
from tests.report.test_sentences import plain

DAY = dt.date(2026, 4, 1)

SEEN: dict[str, Any] = {
    "kind": "speed_fall",
    "metric": "club_speed_mps",
    "value": 44.0,
    "baseline": 45.0,
    "said_on": dt.date(2026, 3, 1),
    "now_on": dt.date(2026, 3, 20),
    "now_value": 43.0,
    "closed_on": None,
    "reasons": ["likely=-1.0"],
}


def test_an_open_flag_says_what_the_value_is_today_and_how_much_of_it_is_likely() -> None:
    numbers = Numbers(words("en"), Units())
    assert _today(SEEN, numbers) == f" That was on 1 March 2026; now it is 96.2{NARROW_SPACE}mph."
    assert _today(SEEN | {"now_value": 44.0}, numbers) == ""
    amount = 45.0 * (1 - math.exp(-0.01)) * 3600 / 1609.344
    assert _likely(SEEN, numbers) == f" About {amount:.1f}{NARROW_SPACE}mph of that is likely to be real."


def test_of_an_open_notice_only_what_is_still_likely_is_said() -> None:
    numbers, lasts = Numbers(words("en"), Units()), SEEN | {"now_share": 0.25}
    amount = 45.0 * (1 - math.exp(-0.0025)) * 3600 / 1609.344
    assert _likely(lasts, numbers) == f" About {amount:.1f}{NARROW_SPACE}mph of that is likely to be real."
    assert _likely(SEEN | {"now_share": 0.02}, numbers) == " Next to nothing of that is likely to be real."
    assert _likely(lasts | {"closed_on": DAY}, numbers) == _likely(SEEN, numbers)
    notice = SEEN | {"level": "notice", "reasons": ["likely=-2.0"]}
    assert not _is_mostly_luck(notice)
    assert _is_mostly_luck(notice | {"now_share": 0.25})


def test_the_value_of_today_has_an_interval_beside_that_of_the_flags_own_day() -> None:
    now = SEEN | {"low": 43.5, "high": 44.5, "now_low": 42.6, "now_high": 43.4, "reasons": []}
    assert plain(flag_evidence(now, words("en"), Units())) == "90 % interval 97.3 to 99.5 mph, now 95.3 to 97.1 mph"
    assert plain(flag_evidence(now, words("de"), Units())) == "90‑%-Intervall 97,3 bis 99,5 mph, jetzt 95,3 bis 97,1 mph"
    for alike in ({"now_value": 44.0}, {"now_low": None, "now_high": None}, {"closed_on": DAY}, {"now_on": SEEN["said_on"]}):
        assert plain(flag_evidence(now | alike, words("en"), Units())) == "90 % interval 97.3 to 99.5 mph"


def test_what_was_last_known_weeks_ago_is_not_said_to_be_so_now() -> None:
    past = SEEN | {"low": 43.5, "high": 44.5, "now_low": 42.6, "now_high": 43.4, "reasons": [], "now_is_past": True}
    said = plain(flag_sentence(past, words("en"), Units()))
    assert said.endswith(" That was on 1 March 2026; when last known, on 20 March 2026, it was 96.2 mph.")
    assert plain(flag_evidence(past, words("en"), Units())).endswith(" mph, on 20 March 2026: 95.3 to 97.1 mph")


def test_how_many_sessions_would_settle_it_is_said_where_that_is_known() -> None:
    settled = SEEN | {"reasons": ["likely=-1.0", "retest=3"]}
    assert flag_evidence(settled, words("en"), Units()) == "3 more sessions like the usual ones would settle it"
    assert flag_evidence(SEEN, words("en"), Units()) == "More than twelve further sessions would be needed to settle it"
