"""Which column of which kind a word of the list names, and which kind of file its headers speak of."""

from __future__ import annotations

from pipelines.stages.intake.draft.lexicon import meaning_of
from schemas.files import KINDS

_BY_KIND: dict[str, dict[str, str]] = {
    "name": {"players": "alias", **{kind: "player_id" for kind in KINDS if kind not in {"players", "decisions"}}},
    "own_id": {"players": "player_id", "trials": "trial_id"},
    "session": {"shots": "session_id", "sessions": "session_id"},
    "date": {
        "checkins": "date", "mobility": "date", "rounds": "played_on", "absences": "began_on", "problems": "week_ending",
        "plans": "week_starting", "decisions": "decided_on", "trials": "began_on", "shots": "date", "sessions": "date",
        "changes": "changed_on",
    },
    "time": {"shots": "time", "sessions": "time"},
    "timestamp": {
        "shots": "struck_at", "sessions": "started_at", "checkins": "date", "mobility": "date", "decisions": "decided_on",
    },
    "start": {"sessions": "started_at", "absences": "began_on", "trials": "began_on", "plans": "week_starting"},
    "start_date": {"absences": "began_on", "trials": "began_on", "plans": "week_starting", "sessions": "date"},
    "end": {"absences": "ended_on", "decisions": "until", "trials": "ended_on"},
    "until": {"decisions": "until", "absences": "ended_on"},
    "kind": {"sessions": "kind", "absences": "kind", "changes": "kind"},
    "reason": {"absences": "kind"},
    "duration": {"sessions": "duration_min", "plans": "minutes"},
    "minutes": {"plans": "minutes", "sessions": "duration_min"},
    "height": {"players": "height_cm", "shots": "apex_m"},
    "swings_planned": {"plans": "swings_full"},
    "sleep_quality": {"checkins": "sleep_trouble"},
    "group_name": {"plans": "group_name", "players": "groups"},
    "sent": {"checkins": "date"},
    "back_on": {"absences": "ended_on"},
    "loft": {"shots": "loft_deg"},
    "distance": {"shots": "carry_m"},
    "consent": {"players": "health_consent"},
    "freshness": {"checkins": "fatigue"},
    "calmness": {"checkins": "stress"},
    "first_name": dict.fromkeys(KINDS, "first_name"),
    "last_name": dict.fromkeys(KINDS, "last_name"),
    "birth_date": {"players": "birth_date"},
    "warm_up": {"shots": "counts"},
    "strong_hand": {"players": "handed"},
    "backspin": {"shots": "spin_rpm"},
    "side": {"shots": "offline_m", "mobility": "side"},
    "year": dict.fromkeys(KINDS, "year"),
    "month": dict.fromkeys(KINDS, "month"),
}  # fmt: skip
"""Words that are not the name of a column: kind of file to its column, or to a part of a time."""

NOT_KEPT = ("speed_ratio", "total_m", "sidespin", "face_to_path")
"""Known quantities that are not kept: they follow from others, or depend on the ground."""
PARTS = frozenset({"date", "time", "year", "month", "first_name", "last_name", "birth_date"})
"""What is no column of ours, but a part of one."""
_MEASURED = {"club_speed_mps", "ball_speed_mps", "carry_m"}
_LEAST_SCORE = 2.0


def target_of(concept: str, kind: str) -> str:
    """Our column, or a part of one; empty when the kind has none for it."""
    if concept in _BY_KIND:
        target = _BY_KIND[concept].get(kind, "")
        return target if target in PARTS or target in KINDS[kind].names else ""
    return concept if concept in KINDS[kind].names else ""


def _weight(concept: str) -> float:
    fits = sum(1 for kind in KINDS if target_of(concept, kind))
    return {0: 0.0, 1: 3.0, 2: 1.0}.get(fits, 0.3)


def kinds_by_score(concepts: list[tuple[str, ...]], regions: tuple[int, int], tests: int, name: str) -> list[tuple[float, str]]:
    """Kinds with what speaks for them, the best first.

    Parameters
    ----------
    concepts : list
        For each header, what it may mean.
    regions : tuple of int
        Headers with a region of the body that a check-in may ask, and that a weekly problem form may.
    tests : int
        Headers that name a mobility test.
    name : str
        Name of the file and of the sheet.
    """
    named = set(meaning_of(name, "kinds").concepts)
    scores: list[tuple[float, str]] = []
    for kind, file in KINDS.items():
        score = 3.0 * (kind in named)
        targets: set[str] = set()
        for meanings in concepts:
            fit = [concept for concept in meanings if target_of(concept, kind) and target_of(concept, kind) not in targets]
            if fit:
                score += max(map(_weight, fit))
                targets.update(target_of(concept, kind) for concept in fit)
        score += sum(1.0 for column in file.required if column in targets and column not in {"player_id", "date"})
        score += min({"checkins": regions[0], "problems": regions[1]}.get(kind, 0), 4)
        score += 3.0 * min(tests, 2) * (kind == "mobility")
        if kind == "shots" and not targets & _MEASURED:
            score = 0.0
        scores.append((score, kind))
    return sorted((pair for pair in scores if pair[0] >= _LEAST_SCORE), key=lambda pair: -pair[0])
