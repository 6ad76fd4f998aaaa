"""Sentences about load and body: what is known, against what, and what cannot be said."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reports.findings.flags import WEEK_DAYS, region_name, scaled_sentence
from schemas.natural_order import natural_key

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from reports.numbers import Numbers
    from reports.words import Words
    from schemas.academy import Academy

WEEK_KNOWN, MONTH_KNOWN = 5, 20
NOTICED_CHANGE = 0.10
ASSOCIATION_P = 0.05


def days_of_week(row: Mapping[str, Any], words: Words) -> str:
    """How many of the last seven days are known, which what is told of the week is scaled up from; empty where all are."""
    known = row["days_known_7"]
    return words("squad.days_known", n=known, all=WEEK_DAYS) if known < WEEK_DAYS else ""


def week_sentence(row: Mapping[str, Any], numbers: Numbers) -> str:
    """The last 7 days against the usual week of the four before, in swings; or why it cannot be said."""
    words = numbers.words
    if row["week_swings"] is None:
        known = row["days_known_7"]
        return words.count("load.too_few_days", known, all=WEEK_DAYS) if known else words("load.no_days", all=WEEK_DAYS)
    week = numbers.bare("count", row["week_swings"])
    usual = row["usual_week_swings"]
    scaled = scaled_sentence(row["days_known_7"], words)
    if not usual:
        return words("load.week_only", week=week) + scaled
    change = row["week_swings"] / usual - 1
    key = "load.week_same" if abs(change) <= NOTICED_CHANGE else ("load.week_more" if change > 0 else "load.week_less")
    return words(key, week=week, usual=numbers.bare("count", usual), share=words.number(abs(change) * 100, 0)) + scaled


def effort_sentence(row: Mapping[str, Any], numbers: Numbers) -> str:
    """The last 7 days in effort x minutes against the usual week; empty when it is unknown.

    ``row`` says in ``effort_unknown`` how many of these 35 days are not known: only then are some taken like the known ones.
    """
    if row["week_effort_min"] is None or row["usual_week_effort_min"] is None:
        return ""
    return numbers.words(
        "load.effort_scaled" if row["effort_unknown"] else "load.effort",
        week=numbers.bare("count", row["week_effort_min"]),
        usual=numbers.bare("count", row["usual_week_effort_min"]),
    )


def rest_sentence(row: Mapping[str, Any], words: Words) -> str:
    """Days since an easy day; says so when it is not known."""
    days = row["days_since_easy"]
    if days is None:
        return words("load.easy_unknown")
    return words("load.easy_today") if days == 0 else words.count("load.easy_since", days)


def assumed_sentence(row: Mapping[str, Any], words: Words) -> str:
    """How many of the last 28 days are taken as days off for want of a row; empty when none is."""
    return words.count("load.assumed", row["days_assumed_28"]) if row["days_assumed_28"] else ""


def assumed_note(academy: Academy, words: Words) -> str:
    """That a day without a row counts as a day off, where the academy says so, and for whom; else empty."""
    is_off = academy.day_without_row == "off"
    others = sorted(
        (group for group, rule in academy.group_day_without_row.items() if (rule == "off") != is_off), key=natural_key
    )
    if not others:
        return words("load.assumed_note") if is_off else ""
    return words("load.assumed_note_but" if is_off else "load.assumed_note_for", groups=words.listing(others))


def month_sentence(row: Mapping[str, Any], words: Words) -> str:
    """Where the last four weeks stand in the player's own history, or how many days were known."""
    if row["days_known_28"] < MONTH_KNOWN:
        return words("load.month_unknown", known=row["days_known_28"], all=28)
    if row["month_percentile"] is None:
        return words("load.month_learning")
    return words("load.month_place", share=words.number(row["month_percentile"], 0))


def association_sentence(row: Mapping[str, Any], numbers: Numbers) -> str:
    """Goes-with, never causes: stiffness of a region and the load of the days before; or that nothing can be said."""
    words = numbers.words
    region = region_name(row["region"], words)
    if row["total"] is None:
        if not row["n_pairs"]:
            return words("association.nothing", region=region)
        return words("association.too_few", region=region, n=words.count("n.days", row["n_pairs"]))
    straddles = row["low"] is not None and row["low"] <= 0 <= row["high"]
    if row["p_value"] is None or row["p_value"] > ASSOCIATION_P or straddles:
        return words("association.none", region=region, n=words.number(row["n_pairs"], 0))
    key = "association.higher" if row["total"] > 0 else "association.lower"
    interval = numbers.interval("rating", row["low"], row["high"], signed=True) if row["low"] is not None else ""
    shown = words(
        key,
        region=region,
        n=words.number(row["n_pairs"], 0),
        points=numbers.bare("rating", abs(row["total"])),
        interval=words("association.interval", interval=interval) if interval else "",
    )
    return f"{shown} {words('association.caution')}"


def state_word(state: str | None, words: Words) -> str:
    """Availability in words."""
    return words.either(f"availability.{state}", "") if state else ""


def standing_word(row: Mapping[str, Any], words: Words) -> str:
    """Where a flag stands by its decision: new, under decision until a day, back because its date has passed or it has grown."""
    if not row["decision"]:
        return words("review.undecided")
    what = words.either(f"decision.{row['decision'].replace(' ', '_')}", row["decision"])
    until = words("review.until", day=words.short_day(row["decided_until"])) if row["decided_until"] else ""
    key = f"review.state_{row.get('decision_state') or 'under_decision'}"
    return words(key, what=what, until=until).replace("  ", " ").replace(" ,", ",").rstrip()


def questions(kinds: Iterable[str], regions: Iterable[str], words: Words) -> list[str]:
    """Questions to ask about these kinds of flags, each once, in a fixed order."""
    found: list[str] = []
    for kind in ("body_stiff", "overuse_pattern", "problem_report", "load_jump", "load_flat", "body_fatigue", "answers_fewer"):
        if kind in set(kinds):
            found += [line for line in words.lines(f"questions.{kind}") if line not in found]
    named = words.listing([region_name(region, words) for region in sorted(set(regions) - {""})])
    place = named or words("questions.there")
    return [line.format(place=place) for line in found]


def youth_sentence(row: Mapping[str, Any], words: Words) -> str:
    """A rule of thumb for young players that applies, as a note: hours to a tenth, days whole."""
    digits = 0 if row["code"] == "full_effort_on_consecutive_days" else 1
    return words(f"youth.{row['code']}", value=words.number(row["value"], digits), reference=words.number(row["reference"], 0))


def prevalence_sentence(row: Mapping[str, Any], words: Words) -> str:
    """The newest week of the weekly form: how many of those who answered, with the interval."""
    return words(
        "squad_health.prevalence",
        day=words.short_day(row["week_ending"]),
        n=words.number(row["n_any"], 0),
        all=words.number(row["n_answered"], 0),
        share=words.number(100 * row["share_any"], 0),
        low=words.number(100 * row["any_low"], 0),
        high=words.number(100 * row["any_high"], 0),
        substantial=words.number(row["n_substantial"], 0),
    )


def burden_sentence(row: Mapping[str, Any], words: Words) -> str:
    """Incidence and burden of a year, with their intervals."""
    injuries = words.count("squad_health.injuries", row["n"])
    if row["incidence_low"] is None:
        return words("squad_health.burden_small", injuries=injuries, hours=words.number(row["hours"], 0))
    if row["burden_low"] is None:
        high = words.number(row["incidence_high"], 2)
        return words("squad_health.burden_none", hours=words.number(row["hours"], 0), high=high)
    return words(
        "squad_health.burden",
        injuries=injuries,
        hours=words.number(row["hours"], 0),
        incidence=words.number(row["incidence"], 2),
        low=words.number(row["incidence_low"], 2),
        high=words.number(row["incidence_high"], 2),
        burden=words.number(row["burden"], 1),
        burden_low=words.number(row["burden_low"], 1),
        burden_high=words.number(row["burden_high"], 1),
    )
