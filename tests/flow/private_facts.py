"""A small invented academy in which everything that is private can be changed, one fact at a time or all at once.

Three players strike the same shots in every version. What one of them reports of the body, what the physio decides, what was
mistyped about it and what the files were called differs; nothing of that may show to the coach or to another player.
"""

from __future__ import annotations

import datetime as dt
import math
from typing import TYPE_CHECKING

from pipelines.settings import default_settings
from pipelines.workspace import Workspace, create_workspace
from schemas.regions import REGIONS

if TYPE_CHECKING:
    from collections.abc import Collection
    from pathlib import Path

NIGHT = dt.datetime(2026, 3, 30, 21, tzinfo=dt.UTC)
LAST = dt.date(2026, 3, 29)
FIRST = LAST - dt.timedelta(days=69)
LOUD_SINCE = LAST - dt.timedelta(days=9)
PLAYERS = ("avocet", "bittern", "curlew", "dunlin")
"""Whose body it is; two others who agreed; one who did not."""
GROUPS = dict(zip(PLAYERS, ("Elite", "Elite; East", "East", "Elite"), strict=True))

_RATINGS = {
    "fatigue": ("2", "9"),
    "soreness": ("1", "8"),
    "stress": ("2", "7"),
    "sleep_trouble": ("1", "6"),
    "sleep_h": ("7.5", "4"),
}
FACTS: dict[str, tuple[str, str]] = {
    **_RATINGS,
    **{f"stiff_{region}": ("1", "7") for region in REGIONS},
    "checkin_note": ("fine", "Sharp pain"),
    "form_region": ("lower_back", "lead_knee"),
    "form_performance": ("0", "3"),
    "form_symptoms": ("0", "3"),
    "form_onset": ("gradual", "sudden"),
    "form_note": ("all right", "Cannot sit"),
    "absence_kind": ("other", "injury"),
    "absence_region": ("", "lower_back"),
    "absence_onset": ("", "sudden"),
    "mobility_test": ("hip_inward_turn", "hip_outward_turn"),
    "mobility_side": ("lead", "trail"),
    "mobility_value_deg": ("40", "12"),
    "decision_until": ("", "2026-04-30"),
    "decision_note": ("", "Second disc"),
    "decision_region": ("lower_back", "neck"),
    "decision_kind": ("body_stiff", "problem_report"),
    "mistyped_rating": ("two", "it hurts so much"),
    "mistyped_decision": ("watch", "see a surgeon"),
    "refused_report": ("2", "10"),
    "report_without_consent": ("2", "10"),
    "health_file_name": ("checkins_more.csv", "checkins_avocet_slipped_disc.csv"),
    "held_file_name": ("letter.csv", "avocet_operation.csv"),
    "decision_file_name": ("decisions_0.csv", "decisions_avocet_body_stiff.csv"),
    # What a coach sees by the academy's own setting: whether a player can train, and that the physio asks for a word.
    "form_participation": ("0", "3"),
    "form_modified": ("0", "2"),
    "absence_lasts": ("2026-03-02", ""),
    "decision": ("watch", "rest"),
}
"""Fact to how it is told quietly and loudly."""

AVAILABILITY = frozenset({"form_participation", "form_modified", "absence_lasts", "decision"})
"""Facts that a coach learns, in one word, where ``coach_sees_availability`` is true."""


def private_academy(root: Path, loud: Collection[str], *, coach_sees_availability: bool) -> Workspace:
    """A workspace with files that wait; the facts in ``loud`` are told loudly, all others quietly."""
    text = default_settings("Shore", "Europe/Berlin", coach_sees_availability=coach_sees_availability)
    made = create_workspace(root, text)
    made.key_file.write_bytes(b"k" * 32)
    (root / ".id-key").write_bytes(b"i" * 32)
    told = {name: pair[name in loud] for name, pair in FACTS.items()}
    for name, lines in (_ball() | _body(told) | _decided(told)).items():
        (made.inbox / name).write_text("".join(f"{line}\n" for line in lines), encoding="utf-8")
    return made


def _ball() -> dict[str, list[str]]:
    agreed = {name: "false" if name == PLAYERS[3] else "true" for name in PLAYERS}
    days = [FIRST + dt.timedelta(days=3 * step) for step in range(24)]
    sessions = [f"{name[0]}{at},{name},{day}T10:00,range,60,5,40,unit-1" for name in PLAYERS for at, day in enumerate(days)]
    shots = [
        f"{name[0]}{at},{name},{shot},{day}T10:{shot:02d},driver,"
        f"{_speed(name, at, shot):.2f},{66 + who + math.sin(5 * at + shot):.2f},"
        f"{210 + 6 * math.sin(3 * at + shot):.1f},{12 * math.sin(5 * shot + at + who):.1f},{_trial(name, at, shot)}"
        for who, name in enumerate(PLAYERS)
        for at, day in enumerate(days)
        for shot in range(1, 9 if at < 20 else 21)
    ]
    return {
        "players.csv": [
            "player_id,alias,birth_year,handed,health_consent,groups",
            *(f"{name},{name.title()},2001,right,{agreed[name]},{GROUPS[name]}" for name in PLAYERS),
        ],
        "sessions.csv": ["session_id,player_id,started_at,kind,duration_min,effort,swings_full,device_id", *sessions],
        "shots.csv": [
            "session_id,player_id,shot_no,struck_at,club,club_speed_mps,ball_speed_mps,carry_m,offline_m,trial_id,arm,block_no",
            *shots,
        ],
        "trials.csv": [
            "trial_id,player_id,question,normal_arm,arms,began_on",
            f"T1,{PLAYERS[0]},wider,normal,normal | wider,{days[20]}",
        ],
    }


def _trial(name: str, at: int, shot: int) -> str:
    return f"T1,{_arm(shot, at)},{1 + shot // 5}" if name == PLAYERS[0] and at >= 20 else ",,"


def _arm(shot: int, at: int) -> str:
    return ("normal", "wider")[(shot * 7 + at) % 5 % 2]


def _speed(name: str, at: int, shot: int) -> float:
    faster = name == PLAYERS[0] and at >= 20 and _arm(shot, at) == "wider"
    slower = name == PLAYERS[2] and at >= 14
    return 45 + PLAYERS.index(name) + math.sin(7 * at + 3 * shot) + (2 if faster else 0) - (3 if slower else 0)


def _body(told: dict[str, str]) -> dict[str, list[str]]:
    ratings = (*_RATINGS, *(f"stiff_{region}" for region in REGIONS))
    head = f"player_id,date,{','.join(ratings)},note"
    days = [FIRST + dt.timedelta(days=step) for step in range(70)]

    def answers(name: str, day: dt.date) -> str:
        is_told = name == PLAYERS[0] and day >= LOUD_SINCE
        values = [told[rating] if is_told else FACTS[rating][0] for rating in ratings]
        return f"{name},{day},{','.join(values)},{told['checkin_note'] if is_told else ''}"

    form = ",".join(
        told[f"form_{name}"] for name in ("region", "participation", "modified", "performance", "symptoms", "onset", "note")
    )
    absence = ",".join(told[f"absence_{name}"] for name in ("kind", "lasts", "region", "onset"))
    screen = ",".join(told[f"mobility_{name}"] for name in ("test", "value_deg", "side"))
    return {
        "checkins.csv": [head, *(answers(name, day) for name in PLAYERS[:3] for day in days[:-1])],
        told["health_file_name"]: [
            "player_id,date,fatigue,soreness",
            f"{PLAYERS[1]},{LAST},2,1",
            f"{PLAYERS[0]},{LAST},2,{told['mistyped_rating']}",
            f"nobody,{LAST},{told['refused_report']},1",
            f"{PLAYERS[3]},{LAST},{told['report_without_consent']},1",
        ],
        "problems.csv": [
            "player_id,week_ending,region,participation,modified,performance,symptoms,onset,note",
            f"{PLAYERS[0]},2026-03-22,{form}",
            f"{PLAYERS[1]},2026-03-22,neck,0,0,0,0,gradual,",
        ],
        "absences.csv": ["player_id,began_on,kind,ended_on,region,onset", f"{PLAYERS[0]},2026-03-01,{absence}"],
        "mobility.csv": [
            "player_id,date,test,value_deg,side",
            f"{PLAYERS[0]},2026-02-01,hip_inward_turn,40,lead",
            f"{PLAYERS[0]},2026-03-20,{screen}",
        ],
        told["held_file_name"]: ["a,b", "1,2"],
    }


def _decided(told: dict[str, str]) -> dict[str, list[str]]:
    head = "flag_id,decided_on,role,decision,until,note,player_id,flag_kind,region,raised_on"
    about = f"{PLAYERS[0]},{told['decision_kind']},{told['decision_region']},2026-03-24"
    row = f"zzzzzzzz,2026-03-28,physio,{told['decision']},{told['decision_until']},{told['decision_note']},{about}"
    slip = f"yyyyyyyy,2026-03-28,physio,{told['mistyped_decision']},,,{PLAYERS[0]},body_fatigue,,2026-03-24"
    return {told["decision_file_name"]: [head, row, slip]}
