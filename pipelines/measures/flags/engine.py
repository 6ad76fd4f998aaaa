"""From candidates to flags, night by night: episodes, levels, the alert budget, one message per player and day.

Nothing looks ahead: what is said of a night rests on the candidates of that night and before, so a history cut short at any night
gives the flags of that night.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import polars as pl

from pipelines.measures.estimates import Estimates, inputs_digest, kept_days
from pipelines.measures.flags.candidates import STREAM, candidates
from pipelines.measures.flags.discovery import adjusted_p_values
from pipelines.measures.flags.identity import flag_id
from pipelines.measures.flags.night import HOLDS, OVER, Key, Look, Row, looks
from pipelines.measures.flags.rules import FAMILIES, RULES, Family, Rule
from pipelines.measures.flags.state import AlertPolicy, Episode, State, known_of, recall

P_VALUE_DAYS = 7
"""A player's last p-value counts among the tests of a night for so many days."""

HOLD_BACK_DAYS = 21
"""When a device comes under suspicion, alerts raised on it so many days before are taken back to notices."""


CLOSINGS: tuple[str, ...] = ("over", "back", "not_clear", "lasting", "small", "no_data", "device", "players", "unclear", "left")
"""Why a flag closes: the rule holds no more; back at the normal that was left; no longer clearly apart from it; the new level
lasts and is listed as such; it lasts, and less is left of it than is worth calling a change; nothing new came; of a device: it
had moved, its players had, or it could not be told; the player has left (``left``, which is seen after the nights)."""


@dataclass(frozen=True)
class FlagHistory:
    """All flags up to a night, and what happened to them.

    Attributes
    ----------
    flags : polars.DataFrame
        One row per flag; evidence as it was when the flag reached its level.
    events : polars.DataFrame
        One row per flag and event (raised, alerted, held, and the reasons of ``CLOSINGS``) with the evidence of that night.
    """

    flags: pl.DataFrame
    events: pl.DataFrame


def flag_history(
    rows: pl.DataFrame,
    as_of: dt.date,
    policy: AlertPolicy | None = None,
    rules: Mapping[str, Rule] = RULES,
    id_key: bytes = b"",
    estimates: Estimates | None = None,
) -> FlagHistory:
    """Every flag up to and including the night ``as_of``.

    Parameters
    ----------
    rows : polars.DataFrame
        Candidates (see :mod:`pipelines.measures.flags.candidates`), in any order.
    as_of : datetime.date
        Later rows are not read.
    policy : AlertPolicy, optional
    rules : mapping, optional
    id_key : bytes, optional
        Secret from which ids are made: without it nobody can find out by trying what a flag of some id is about.
    estimates : Estimates, optional
        What was known before: it is kept of some days, by the candidates before each.

    Returns
    -------
    FlagHistory
        Flags ordered by raised_on and id, events by night and flag.

    Raises
    ------
    ValueError
        When a row is of a kind without a rule, or breaks the contract of candidates.

    Notes
    -----
    A flag opens on the first night on which a stream of it opens, as a notice. It becomes an alert on a night with new data on
    which it is a fact, or on which its p-value (joint over the player's streams) is among those rejected by Benjamini-Hochberg at
    ``false_share`` over all players and kinds, and not above the rule's largest; if the budget allows; and if no device of it is
    under suspicion. It closes when the stream of which it tells names a reason (``closed:REASON``), when no stream of it has held
    for ``latch_days``, or when nothing new has come for ``lapse_days``.
    Flags about the body are a family of their own, with its own rejections and budget: what is reported of the body moves nothing
    that a coach or another player reads.

    Source: [BenjaminiHochberg1995], [Simes1986], [GandyLau2012]
    Checked: tests/unit/test_flag_engine.py, tests/property/test_flag_replay.py
    """
    state = State(policy or AlertPolicy(), rules, id_key)
    known = candidates(rows).filter(pl.col("on_date") <= as_of).sort("on_date", *STREAM)
    _pass_nights(state, known, as_of, estimates or Estimates())
    for episode in state.open.values():
        _file(state, episode, None, "")
    return _history(state)


def _pass_nights(state: State, known: pl.DataFrame, as_of: dt.date, estimates: Estimates) -> None:
    """Night after night, from the newest day on of which it is known what was known when it began."""
    if known.is_empty():
        return
    first: dt.date = known["on_date"][0]
    names = {day: _name(state, known, day) for day in kept_days(as_of) if day > first}
    begun = first
    if (newest := estimates.newest(names)) is not None:
        begun, told = newest
        recall(state, told)
    since = len(estimates.asked)
    by_night = _by_night(known.filter(pl.col("on_date") >= begun))
    for offset in range((as_of - begun).days + 1):
        night = begun + dt.timedelta(days=offset)
        if night in names and night > begun:
            estimates.keep(names[night], known_of(state), since)
        _pass_night(state, night, looks(_rows(by_night, night), state.rules))


def _by_night(known: pl.DataFrame) -> dict[dt.date, pl.DataFrame]:
    """Slices of rows that stand in the order of their nights: listed all at once they would take ten times the memory."""
    nights = known.group_by("on_date", maintain_order=True).len()
    after = nights["len"].cum_sum().to_list()
    return {night: known.slice(end - n, n) for (night, n), end in zip(nights.iter_rows(), after, strict=True)}


def _rows(by_night: Mapping[dt.date, pl.DataFrame], night: dt.date) -> list[Row]:
    return by_night[night].to_dicts() if night in by_night else []


def _name(state: State, known: pl.DataFrame, day: dt.date) -> str:
    beside = (day, state.policy, sorted(state.rules.items()), hashlib.blake2b(state.id_key).hexdigest())
    return inputs_digest("flags", known.filter(pl.col("on_date") < day), beside)


def _pass_night(state: State, night: dt.date, seen: list[Look]) -> None:
    for look in seen:
        _note(state, night, look)
        _close_when_named(state, night, look.key)
    for look in seen:
        if look.opens and look.key not in state.open:
            _raise(state, night, look)
    _forget_old(state, night)
    could = [look for look in seen if _may_be_alert(state, look)]
    tested = {look.rule.family for look in could if not look.certain}
    rejected = {key for family in FAMILIES if family in tested for key in _rejected_of(state, family)}
    wanted = [look for look in could if _deserves_alert(state, look, rejected)]
    _send(state, night, wanted)
    for key in sorted(state.open):
        _close_when_over(state, night, state.open[key])


def _note(state: State, night: dt.date, look: Look) -> None:
    if look.p_value is not None:
        state.p_values[look.key] = (night, look.p_value)
        state.families[look.rule.kind] = (night, look.n_players)
    episode = state.open.get(look.key)
    if episode is None:
        return
    episode.last_row = night
    episode.hear(night, look.streams)
    if HOLDS in look.streams.values():
        episode.last_held = night


def _raise(state: State, night: dt.date, look: Look) -> None:
    episode = Episode(flag_id(state.id_key, look.key, night), look.key, look.rule, night, night, night, evidence=look.lead)
    episode.hear(night, look.streams)
    state.open[look.key] = episode
    _record(state, night, episode, "raised")
    _hold_back(state, night, episode)


def _forget_old(state: State, night: dt.date) -> None:
    oldest = night - dt.timedelta(days=P_VALUE_DAYS - 1)
    state.p_values = {key: one for key, one in state.p_values.items() if one[0] >= oldest}


def _rejected_of(state: State, family: Family) -> set[Key]:
    """Those of one family that Benjamini-Hochberg rejects."""
    keys = sorted(key for key in state.p_values if state.rules[key[1]].family == family)
    if not keys:
        return set()
    kinds = Counter(key[1] for key in keys)
    n_tests = sum(max(state.families[kind][1], n) for kind, n in kinds.items())
    adjusted = adjusted_p_values(np.array([state.p_values[key][1] for key in keys]), n_tests)
    return {key for key, value in zip(keys, adjusted, strict=True) if value <= state.policy.false_share}


def _may_be_alert(state: State, look: Look) -> bool:
    episode = state.open.get(look.key)
    return episode is not None and episode.level != "alert" and "alert" in look.rule.levels and (look.opens or look.holds)


def _deserves_alert(state: State, look: Look, rejected: set[Key]) -> bool:
    rejects = look.key in rejected and (look.p_value or 0.0) <= look.rule.largest_p_value
    return (look.certain or rejects) and not _device_is_suspected(state, look.rule, look.lead["device_id"])


def _device_is_suspected(state: State, rule: Rule, device_id: str) -> bool:
    return bool(device_id) and any(
        episode.evidence["device_id"] == device_id for episode in state.open.values() if episode.rule.kind in rule.held_by
    )


def _send(state: State, night: dt.date, wanted: list[Look]) -> None:
    oldest = night - dt.timedelta(days=6)
    state.messages = [message for message in state.messages if message[0] >= oldest]
    for family in FAMILIES:
        _send_family(state, night, family, [look for look in wanted if look.rule.family == family])


def _send_family(state: State, night: dt.date, family: Family, wanted: list[Look]) -> None:
    by_player: dict[str, list[Look]] = {}
    for look in sorted(wanted, key=lambda look: (-look.lead["strength"], look.key)):
        by_player.setdefault(look.key[0] or "\x00".join(look.key), []).append(look)
    for together in by_player.values():
        if sum(sent == family for _, sent in state.messages) >= state.policy.per_week:
            return
        state.messages.append((night, family))
        leader = state.open[together[0].key].flag_id
        for look in together:
            _alert(state, night, look, leader)


def _alert(state: State, night: dt.date, look: Look, leader: str) -> None:
    episode = state.open[look.key]
    episode.level, episode.alerted_on, episode.evidence = "alert", night, look.lead
    episode.led_by = "" if leader == episode.flag_id else leader
    _record(state, night, episode, "alerted")


def _hold_back(state: State, night: dt.date, suspicion: Episode) -> None:
    oldest = night - dt.timedelta(days=HOLD_BACK_DAYS)
    for key in sorted(state.open):
        episode = state.open[key]
        same_device = episode.evidence["device_id"] == suspicion.evidence["device_id"] != ""
        recent = episode.alerted_on is not None and episode.alerted_on >= oldest
        if suspicion.rule.kind in episode.rule.held_by and same_device and recent and episode.level == "alert":
            episode.level, episode.alerted_on, episode.led_by = "notice", None, ""
            _record(state, night, episode, "held")


def _close_when_named(state: State, night: dt.date, key: Key) -> None:
    """Close a flag when the stream of which it tells names a reason; another that still opens is a flag of its own."""
    episode = state.open.get(key)
    if episode is not None and episode.told_ending not in {HOLDS, OVER}:
        _close(state, night, episode, episode.told_ending)


def _close_when_over(state: State, night: dt.date, episode: Episode) -> None:
    lapsed = (night - episode.last_row).days >= episode.rule.lapse_days
    settled = (night - episode.last_held).days >= episode.rule.latch_days
    if not episode.holding(night) and (settled or lapsed):
        _close(state, night, episode, "no_data" if episode.told_ending == HOLDS else OVER)


def _close(state: State, night: dt.date, episode: Episode, reason: str) -> None:
    _record(state, night, episode, reason)
    _file(state, episode, night, reason)
    del state.open[episode.key]


_EVIDENCE_SCHEMA: dict[str, pl.DataType] = {
    "metric": pl.String(),
    "region": pl.String(),
    "club_group": pl.String(),
    "device_id": pl.String(),
    "value": pl.Float64(),
    "baseline": pl.Float64(),
    "low": pl.Float64(),
    "high": pl.Float64(),
    "p_value": pl.Float64(),
    "n": pl.Int64(),
    "strength": pl.Float64(),
    "reasons": pl.List(pl.String()),
    "sources": pl.List(pl.String()),
}


def _record(state: State, night: dt.date, episode: Episode, event: str) -> None:
    evidence = {name: episode.evidence[name] for name in _EVIDENCE_SCHEMA}
    state.events.append(
        {"flag_id": episode.flag_id, "on_date": night, "event": event, "level": episode.level, "led_by": episode.led_by}
        | evidence
    )


def _file(state: State, episode: Episode, closed_on: dt.date | None, closed_because: str) -> None:
    head = {
        "flag_id": episode.flag_id,
        "player_id": episode.key[0],
        "kind": episode.rule.kind,
        "level": episode.level,
        "audience": episode.rule.audience,
        "raised_on": episode.raised_on,
        "alerted_on": episode.alerted_on,
        "closed_on": closed_on,
        "closed_because": closed_because,
        "led_by": episode.led_by,
    }
    state.flags.append(head | {name: episode.evidence[name] for name in _EVIDENCE_SCHEMA})


FLAG_SCHEMA: dict[str, pl.DataType] = {
    "flag_id": pl.String(),
    "player_id": pl.String(),
    "kind": pl.String(),
    "level": pl.String(),
    "audience": pl.String(),
    "raised_on": pl.Date(),
    "alerted_on": pl.Date(),
    "closed_on": pl.Date(),
    "closed_because": pl.String(),
    "led_by": pl.String(),
    **_EVIDENCE_SCHEMA,
}

EVENT_SCHEMA: dict[str, pl.DataType] = {
    "flag_id": pl.String(),
    "on_date": pl.Date(),
    "event": pl.String(),
    "level": pl.String(),
    "led_by": pl.String(),
    **_EVIDENCE_SCHEMA,
}


def _history(state: State) -> FlagHistory:
    return FlagHistory(
        flags=pl.DataFrame(state.flags, schema=FLAG_SCHEMA, orient="row").sort("raised_on", "flag_id"),
        events=pl.DataFrame(state.events, schema=EVENT_SCHEMA, orient="row").sort("on_date", "flag_id", maintain_order=True),
    )
