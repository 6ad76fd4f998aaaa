"""The rules, one declaration per kind of flag: what it reads, when it opens and closes, and who may see it.

The conditions themselves are computed by the area that the kind belongs to; the texts here say them in words, for whoever asks
the program to explain a flag.
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

Audience = Literal["coach", "physio", "both"]
Level = Literal["notice", "alert"]
Family = Literal["ball", "body"]

FAMILIES: tuple[Family, ...] = ("ball", "body")
"""Flags that share a false-discovery rate and a budget; the body's stand apart, so that nothing of it shows in the others."""

BOTH_LEVELS: tuple[Level, ...] = ("notice", "alert")
NOTICE_ONLY: tuple[Level, ...] = ("notice",)


@dataclass(frozen=True)
class Rule:
    """One kind of flag.

    Attributes
    ----------
    kind : str
    reads : str
        Tables and quantities that it rests on.
    opens, closes : str
        The conditions, in words.
    audience : {"coach", "physio", "both"}
        Who may see it; what tells of the body is for the physio alone.
    latch_days : int
        Days after the condition last held until the flag closes; a new opening before that is the same flag.
    lapse_days : int
        Days without any new data until a flag that still holds is closed as lapsed.
    levels : tuple of {"notice", "alert"}
        Levels that it may reach.
    apart_by : tuple of str
        Columns, beside player and kind, that keep flags of this kind apart; other streams of the player strengthen the same flag.
    held_by : tuple of str
        Kinds about a device that, while open on the same device, keep this kind from becoming an alert.
    largest_p_value : float
        An inference with a larger joint p-value is no alert, whatever the others say: in a squad where much is going on the
        false-discovery rate alone would let weak ones pass, and a chart is looked at after every session.
    """

    kind: str
    reads: str
    opens: str
    closes: str
    audience: Audience
    latch_days: int = 21
    lapse_days: int = 60
    levels: tuple[Level, ...] = BOTH_LEVELS
    apart_by: tuple[str, ...] = ()
    held_by: tuple[str, ...] = ()
    largest_p_value: float = 1.0

    @property
    def family(self) -> Family:
        """With which flags it shares a false-discovery rate and a budget."""
        return "body" if self.audience == "physio" else "ball"


_BY_DEVICE = ("device_shift",)
_CHART_P = 0.0005
_FALL_P = 0.0007
"""A chance is a mean over what is not known of slow form, and so larger than the one at its middle, for which ``_CHART_P`` was
chosen. Falls should be told early; rises and aim stay as they are."""

_SPEED = (
    Rule(
        "speed_fall",
        "session means of club speed by club group, against the player's own earlier sessions",
        "the chart of falls passes its notice limit, and a quarter of what is worth calling a change is likely to be real",
        "the level is back at the normal that it left; or, six weeks later, it has stayed there: listed as lasting if clear",
        "both",
        held_by=_BY_DEVICE,
        largest_p_value=_FALL_P,
    ),
    Rule(
        "speed_rise",
        "session means of club speed by club group, against the player's own earlier sessions",
        "the chart of rises passes its notice limit, and a quarter of what is worth calling a change is likely to be real",
        "the level is back at the normal that it left; or, six weeks later, it has stayed there: listed as lasting if clear",
        "both",
        held_by=_BY_DEVICE,
        largest_p_value=_CHART_P,
    ),
    Rule(
        "speed_stall",
        "trend of club speed by club group",
        "within the last year it rose, by .3 of the smallest worthwhile change in 28 days or more and six standard errors; since "
        "a bend 21 to 126 days ago it has risen at most half as fast, beyond a chance that counts less the steeper it rose",
        "the bend is no longer clear",
        "coach",
        largest_p_value=0.0035,
        held_by=_BY_DEVICE,
    ),
)

_BALL = (
    Rule(
        "transfer_loss",
        "club speed, ball speed and comparable carry of the same sessions",
        "club speed is up and ball speed or carry has not followed",
        "ball speed and carry have followed, or club speed is back",
        "coach",
        held_by=_BY_DEVICE,
    ),
    Rule(
        "scatter_rise",
        "log spread of each session, left-right and long-short, by club group",
        "the chart of the spread passes its upper limit, and a quarter of what is worth calling a change is likely to be real",
        "the level is back at the normal that it left; or, six weeks later, it has stayed there: listed as lasting if clear",
        "coach",
        apart_by=("metric",),
        held_by=_BY_DEVICE,
        largest_p_value=0.003,
    ),
    Rule(
        "scatter_fall",
        "log spread of each session, left-right and long-short, by club group",
        "the chart of the spread passes its lower limit, and a quarter of what is worth calling a change is likely to be real",
        "the level is back at the normal that it left; or, six weeks later, it has stayed there: listed as lasting if clear",
        "coach",
        apart_by=("metric",),
        held_by=_BY_DEVICE,
        largest_p_value=0.003,
    ),
    Rule(
        "wild_rise",
        "how far to a side of their session's middle shots of the last year ended and which lost ball speed, by club group",
        "both are much likelier if the share of wild shots rose within three months than if it did not, or the pattern is wider",
        "they no longer are; or, three months after it rose, the share has stayed there: listed as lasting if clear",
        "coach",
        held_by=_BY_DEVICE,
        largest_p_value=0.0004,
    ),
    Rule(
        "aim_shift",
        "middle of the pattern of each session, left-right and start direction, by club group",
        "the chart of the middle passes a limit, and a quarter of what is worth calling a change is likely to be real",
        "the level is back at the normal that it left; or, six weeks later, it has stayed there: listed as lasting if clear",
        "coach",
        apart_by=("metric",),
        held_by=_BY_DEVICE,
        largest_p_value=_CHART_P,
    ),
    Rule(
        "speed_cost",
        "expected strokes on the player's home course before and after a gain of speed",
        "club speed is up and the pattern now costs more strokes than the distance gains",
        "the sum of both is a gain again, or it is open; or, six months later, it has stayed: listed as lasting if clear",
        "coach",
        held_by=_BY_DEVICE,
    ),
    Rule(
        "strokes_worse",
        "expected strokes of the drives of a month on the player's home course, against the months of reference",
        "the pattern costs more strokes than before, whatever speed did, by 0.3 a round or more and beyond chance",
        "the change is open again; or, six months later, it has stayed: listed as lasting if clear",
        "coach",
        held_by=_BY_DEVICE,
        largest_p_value=0.003,
    ),
    Rule(
        "strokes_better",
        "expected strokes of the drives of a month on the player's home course, against the months of reference",
        "the pattern costs fewer strokes than before, whatever speed did, by 0.3 a round or more and beyond chance",
        "the change is open again; or, six months later, it has stayed: listed as lasting if clear",
        "coach",
        held_by=_BY_DEVICE,
        largest_p_value=0.003,
    ),
)

_LOAD_BODY = (
    Rule(
        "load_jump",
        "swings and full-effort swings of a session or a week, against the player's own last 30 days",
        "a session or a week is far above the largest or the usual of the last 30 days",
        "no such day for a week",
        "both",
        latch_days=7,
        lapse_days=7,
    ),
    Rule(
        "load_flat",
        "days since an easy day and since a day without swings",
        "many days in a row without an easy day",
        "an easy day",
        "both",
        latch_days=0,
        lapse_days=14,
        levels=NOTICE_ONLY,
    ),
    Rule(
        "body_stiff",
        "answers on stiffness by region, against the player's own earlier answers",
        "the last answers are above the player's own normal, for several answers",
        "answers are back at the normal",
        "physio",
        latch_days=7,
        lapse_days=21,
        apart_by=("region",),
        largest_p_value=0.0002,
    ),
    Rule(
        "body_fatigue",
        "answers on fatigue, soreness, stress and sleep, against the player's own earlier answers",
        "the last answers are above the player's own normal, for several answers",
        "answers are back at the normal",
        "physio",
        latch_days=7,
        lapse_days=21,
    ),
    Rule(
        "answers_fewer",
        "days with an answer in the last 14, against the player's own 70 days before, and days with practice",
        "far fewer answers than usual while practice goes on, on days on which others answered",
        "answers come as usual again, or practice has stopped",
        "physio",
        latch_days=7,
        lapse_days=21,
        largest_p_value=0.0002,
    ),
    Rule(
        "problem_report",
        "the weekly problem form",
        "a problem is substantial, or stays",
        "a form without it",
        "physio",
        latch_days=7,
        lapse_days=28,
        apart_by=("region",),
    ),
    Rule(
        "overuse_pattern",
        "load, stiffness by region, club speed and sleep of the same player",
        "two or more of: load up, the same region stiff, speed falling, sleep short",
        "fewer than two of them",
        "physio",
        latch_days=14,
        lapse_days=21,
        apart_by=("region",),
    ),
)

_ORDER = (
    Rule(
        "plan_gap",
        "planned and done full swings of each week",
        "two of the last three finished weeks are far from the plan on the same side",
        "a finished week close to the plan",
        "coach",
        latch_days=0,
        lapse_days=28,
        levels=NOTICE_ONLY,
        apart_by=("metric",),
    ),
    Rule(
        "quiet",
        "days with sessions, rest days or answers, absences",
        "nothing has come for longer than the academy's limit and three times longer than is usual for this player",
        "something comes, an absence is entered, or the player has left",
        "both",
        latch_days=0,
        lapse_days=3650,
        levels=NOTICE_ONLY,
    ),
    Rule(
        "device_shift",
        "what is left of each session after player trend and device offset, by device",
        "at least three players, and most of those on it, have moved together on one device",
        "two weeks later, or sooner when players on two devices tell that the players moved",
        "coach",
        latch_days=0,
        apart_by=("metric", "device_id"),
    ),
)

RULES: MappingProxyType[str, Rule] = MappingProxyType({rule.kind: rule for rule in (*_SPEED, *_BALL, *_LOAD_BODY, *_ORDER)})
"""Every kind of flag by name."""
