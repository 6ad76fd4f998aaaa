"""Sentences on whether club speed reaches the ball."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.findings.flags import metric_name
from reports.findings.trend import change_interval, change_text, is_apart, verdict

if TYPE_CHECKING:
    from collections.abc import Mapping

    from reports.numbers import Numbers

FOLLOWS = ("ball_speed_mps", "comparable_carry_m")


def _with_change(row: Mapping[str, Any], numbers: Numbers) -> str:
    metric, words = row["metric"], numbers.words
    if row["change_28"] is None:
        return words("reach.item_unknown", metric=metric_name(metric, words))
    change, interval = change_text(metric, row["change_28"], numbers), change_interval(row, numbers)
    return words("reach.item", metric=metric_name(metric, words), change=change, interval=interval)


def reach_sentence(last: Mapping[str, Mapping[str, Any]], numbers: Numbers) -> str:
    """Whether ball speed and carry have gone the way of club speed over 28 days.

    Parameters
    ----------
    last : mapping of str to mapping
        Metric to its last row of ``mart_trend``; ``club_speed_mps`` may be missing.
    numbers : Numbers
    """
    words = numbers.words
    speed = last.get("club_speed_mps")
    if speed is None:
        return words("reach.no_club_speed")
    way = verdict(speed)
    if way in {"past", "learning"}:
        return words(f"reach.{way}", day=words.day(speed["on_date"]))
    followers = [last[metric] for metric in FOLLOWS if metric in last]
    items = words.listing([_with_change(row, numbers) for row in followers])
    values = {"speed": change_text("club_speed_mps", speed["change_28"], numbers), "items": items}
    if not followers:
        return words("reach.no_ball", speed=values["speed"])
    if way in {"flat", "open"}:
        return words("reach.open_apart" if way == "open" and is_apart(speed) else f"reach.{way}", **values)
    against = "down" if way == "up" else "up"
    opposed = [row for row in followers if verdict(row) in {"flat", against}]
    following = [row for row in followers if verdict(row) == way]
    if opposed:
        return words(f"reach.{way}_not", **values)
    return words(f"reach.{way}_follows" if len(following) == len(followers) else f"reach.{way}_open", **values)
