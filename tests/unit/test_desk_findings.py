"""What the desk keeps of a finding as JSON is said at the desk as on the pages, its days too."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

from pipelines.desk.view import View
from reports.findings.flags import flag_sentence
from reports.words import words
from schemas.academy import Units
from schemas.marts.flags import COACH


def test_a_finding_whose_number_has_moved_since_is_said_as_on_the_pages() -> None:
    row: dict[str, Any] = {column.name: None for column in COACH.columns} | {
        "kind": "speed_rise", "metric": "club_speed_mps", "club_group": "driver", "region": "", "reasons": [], "value": 44.0,
        "baseline": 42.0, "said_on": date(2026, 2, 10), "now_on": date(2026, 3, 31), "now_value": 45.0,
    }  # fmt: skip
    days = [column.name for column in COACH.columns if column.kind == "day"]
    told = {name: row[name] for name in ("closed_on", "said_on", "now_on")}
    whole = row | dict.fromkeys(days, date(2026, 3, 1)) | told
    kept = json.loads(json.dumps(whole, default=str))
    (read,) = View({"flags": {"coach": [kept]}}).flags("coach")
    assert read == whole
    said = flag_sentence(read, words("en"), Units("mph", "yd"))
    assert said == flag_sentence(whole, words("en"), Units("mph", "yd"))
    assert "10 February 2026" in said
