"""What the engine of flags knows after some nights, and how it is kept."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from pipelines.measures.estimates import with_days
from pipelines.measures.flags.night import HOLDS, Key, Row, stream_of
from pipelines.measures.flags.rules import Family, Rule


@dataclass(frozen=True)
class AlertPolicy:
    """What the academy wants.

    Attributes
    ----------
    false_share : float
        False-discovery rate among alerts of one family that are inferences, 0 to 1.
    per_week : int
        Most messages of one family in seven days for the whole squad; one message holds all its alerts of a player on a day.
    """

    false_share: float = 0.10
    per_week: int = 15


@dataclass
class Episode:
    """A flag that is open."""

    flag_id: str
    key: Key
    rule: Rule
    raised_on: dt.date
    last_held: dt.date
    last_row: dt.date
    evidence: Row
    level: str = "notice"
    alerted_on: dt.date | None = None
    led_by: str = ""
    streams: dict[str, tuple[str, dt.date]] = field(default_factory=dict)

    def hear(self, night: dt.date, said: Mapping[str, str]) -> None:
        """Take in what streams say on a night."""
        self.streams |= {stream: (word, night) for stream, word in said.items()}

    def holding(self, night: dt.date) -> bool:
        """Whether a stream holds it open that has spoken within the days after which a flag lapses."""
        return any(said == HOLDS and (night - on).days < self.rule.lapse_days for said, on in self.streams.values())

    @property
    def told_ending(self) -> str:
        """What the stream said last of which the flag tells."""
        return self.streams[stream_of(self.evidence)][0]


@dataclass
class State:
    """What is known after some nights."""

    policy: AlertPolicy
    rules: Mapping[str, Rule]
    id_key: bytes
    open: dict[Key, Episode] = field(default_factory=dict)
    p_values: dict[Key, tuple[dt.date, float]] = field(default_factory=dict)
    families: dict[str, tuple[dt.date, int]] = field(default_factory=dict)
    messages: list[tuple[dt.date, Family]] = field(default_factory=list)
    flags: list[Row] = field(default_factory=list)
    events: list[Row] = field(default_factory=list)


_DAYS: tuple[str, ...] = ("on_date", "raised_on", "alerted_on", "closed_on")


def known_of(state: State) -> dict[str, Any]:
    """What is known, as JSON can hold it."""
    return {
        "open": [[*key, _of_episode(episode)] for key, episode in state.open.items()],
        "p_values": [[*key, on, p_value] for key, (on, p_value) in state.p_values.items()],
        "families": [[kind, on, n] for kind, (on, n) in state.families.items()],
        "messages": state.messages,
        "flags": state.flags,
        "events": state.events,
    }


def recall(state: State, known: Mapping[str, Any]) -> None:
    """Put what was known into a state of before the first night."""
    for *key, told in known["open"]:
        state.open[tuple(key)] = _episode(tuple(key), state.rules, told)
    state.p_values |= {tuple(key): (dt.date.fromisoformat(on), p_value) for *key, on, p_value in known["p_values"]}
    state.families |= {kind: (dt.date.fromisoformat(on), n) for kind, on, n in known["families"]}
    state.messages += [(dt.date.fromisoformat(on), family) for on, family in known["messages"]]
    state.flags += [with_days(row, *_DAYS) for row in known["flags"]]
    state.events += [with_days(row, *_DAYS) for row in known["events"]]


def _of_episode(episode: Episode) -> dict[str, Any]:
    return {name: getattr(episode, name) for name in Episode.__dataclass_fields__ if name not in {"key", "rule"}}


def _episode(key: Key, rules: Mapping[str, Rule], told: dict[str, Any]) -> Episode:
    dated = with_days(told, "raised_on", "last_held", "last_row", "alerted_on")
    streams = {name: (said, dt.date.fromisoformat(on)) for name, (said, on) in told["streams"].items()}
    more = {"key": key, "rule": rules[key[1]], "evidence": with_days(told["evidence"], *_DAYS), "streams": streams}
    return Episode(**(dated | more))
