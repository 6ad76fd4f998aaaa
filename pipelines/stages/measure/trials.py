"""Trials: counting shots with a trial in, verdicts and everything behind them out."""

from __future__ import annotations

import zlib
from dataclasses import dataclass, field
from datetime import timedelta
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from pipelines.measures.strokes.months import USUAL_RUN_SHARE
from pipelines.measures.trial.analysis import TrialAnalysis, trial_analysis
from pipelines.measures.trial.body import body_side, load_ratio, report_change
from pipelines.measures.trial.cost import CourseCost
from pipelines.measures.trial.sheet import SheetCheck, arms_in, check_against_sheet, typed_order
from pipelines.measures.trial.shots import TrialQuestion, in_order_struck, trial_shots
from pipelines.measures.worthwhile import Worths, worths_in_force
from pipelines.stages.measure.trial_aftermath import alternative_rows, since_rows
from pipelines.stages.measure.trial_reach import LAST_WEEK, WEEKS_BEFORE, within_reach
from pipelines.stages.measure.trial_rows import arm_rows, dose_rows, effect_rows, ids, result_row, shot_rows, strokes_rows
from pipelines.stages.stale import Apart, begin, end
from schemas.clubs import CLUB_GROUP
from schemas.core import core_tables
from schemas.core.trials import TABLES
from schemas.course import DEFAULT_COURSES
from schemas.regions import REGIONS
from warehouse.connection import frame
from warehouse.units import unit_rows

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    import duckdb

    from pipelines.measures.trial.body import ReportChange
    from pipelines.measures.trial.verdict import BodySide
    from schemas.academy import Academy

Row = dict[str, Any]

TRIALS = "trials"
_BLOCKS_AHEAD = 4
NORMAL_WORDS = ("normal", "usual", "baseline", "control", "gewohnt", "bisher")
RATINGS = ("fatigue", "soreness", *(f"stiff_{region}" for region in REGIONS))

_SHOTS = "select * from arm_shot where on_date <= ? order by trial_id, struck_at, session_id, shot_no"
_DECLARED = "select * from trial where began_on <= ? order by trial_id"
_PLAYERS = "select player_id, standard from player order by player_id"
_NORMS = "select metric, club_group, from_on, worthwhile from trend_norm where from_on <= ? order by metric, club_group, from_on"
_HOMES = "select player_id, course from home_course order by player_id"
_WARM_UPS = "select session_id from warm_up_session order by session_id"
_AROUND = {
    "swings": ("swings_of_day", "on_date", ("player_id", "on_date")),
    "checkins": ("checkin", "date", ("player_id", "date")),
    "session_clubs": ("session_club", "on_date", ("player_id", "on_date", "session_id")),
    "plans": ("player_plan", "week_starting", ("player_id", "week_starting")),
}
"""View, column of days, and order of what else is read of players with a trial."""


@dataclass(frozen=True)
class Around:
    """What else is known of the players of trials: frames of the warehouse.

    Attributes
    ----------
    beside : polars.DataFrame
        What they struck in any trial.
    swings, checkins, session_clubs, plans : polars.DataFrame
    warm_ups : frozenset of str
        Sessions with shots that are marked as not counting.
    standards : dict of str to str
        Player to standard of expected strokes.
    homes : dict of str to str
        Player to home course.
    norms : polars.DataFrame
        What is worthwhile in the squad, in the quarters in which the trials began.
    """

    beside: pl.DataFrame
    swings: pl.DataFrame
    checkins: pl.DataFrame
    session_clubs: pl.DataFrame
    plans: pl.DataFrame
    warm_ups: frozenset[str]
    standards: dict[str, str]
    homes: dict[str, str]
    norms: pl.DataFrame


def trials_by_player(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> Apart:
    """Trials of a player: whom the trials file names, else who struck its first shot; and what is known around them.

    ``struck_by`` is who struck a shot: one that names somebody else's trial is read with that trial, too.
    """
    ended = pl.when(pl.col("ended_on") <= as_of)  # a night of an earlier day knows of no end
    declared = frame(con, _DECLARED, [as_of]).with_columns(ended.then(pl.col("ended_on", "end_rule")).name.keep())
    warm_ups = frame(con, _WARM_UPS)["session_id"]
    struck = frame(con, _SHOTS, [as_of]).with_columns(pl.col("session_id").is_in(warm_ups.implode()).alias("is_warmed_up"))
    shots = _with_owners(struck, declared)
    tried = pl.concat([part.select("player_id") for part in (shots, declared)]).unique()
    known = {name: unit_rows(con, view, tried, (day, as_of), order) for name, (view, day, order) in _AROUND.items()}
    around = within_reach(known, shots)
    homes = frame(con, _PLAYERS).join(frame(con, _HOMES), on="player_id", how="left", maintain_order="left")
    around["players"] = homes.join(tried, on="player_id", how="semi", maintain_order="left")
    courses = (*DEFAULT_COURSES, *academy.courses)
    rests_on = f"{courses!r}|{academy.course}|{academy.standard}"
    norms = _norms_of_first_days(shots, frame(con, _NORMS, [as_of]))
    reads = {"shots": shots, "declared": declared, "norms": norms, **around}
    return Apart(TRIALS, TABLES, reads, partial(trial_rows, academy=academy), rests_on)


def _with_owners(shots: pl.DataFrame, declared: pl.DataFrame) -> pl.DataFrame:
    """The shots by the player whose trial they belong to, and again by the player who struck them."""
    first = shots.group_by("trial_id", maintain_order=True).agg(pl.col("player_id").first().alias("first_by"))
    named = first.join(declared.select("trial_id", named="player_id"), on="trial_id", how="left", maintain_order="left")
    owners = named.select("trial_id", pl.coalesce("named", "first_by").alias("owner_id"))
    owned = shots.rename({"player_id": "struck_by"}).join(owners, on="trial_id", maintain_order="left")
    by_owner = owned.with_columns(player_id=pl.col("owner_id"))
    by_other = owned.filter(pl.col("struck_by") != pl.col("owner_id")).with_columns(player_id=pl.col("struck_by"))
    return pl.concat([by_owner, by_other])


def _norms_of_first_days(shots: pl.DataFrame, norms: pl.DataFrame) -> pl.DataFrame:
    """The squad's values that were in force on the first day of each trial of a player: no later quarter changes them."""
    counting = shots.filter("counts", pl.col("arm").is_not_null(), pl.col("player_id") == pl.col("struck_by"))
    first = counting.group_by("player_id", "trial_id").agg(pl.col("on_date").min()).select("player_id", "on_date").unique()
    begun = first.join(norms, how="cross").filter(pl.col("from_on") <= pl.col("on_date"))
    newest = pl.col("from_on") == pl.col("from_on").max().over("player_id", "on_date", "metric", "club_group")
    in_force = begun.filter(newest).select("player_id", "metric", "club_group", "from_on", "worthwhile").unique()
    return in_force.sort("player_id", "metric", "club_group", "from_on")


def trial_rows(read: Mapping[str, pl.DataFrame], academy: Academy) -> dict[str, pl.DataFrame]:
    """Rows of the trial tables."""
    players = read["players"]
    around = Around(
        beside=_as_struck(read["shots"].filter(pl.col("player_id") == pl.col("struck_by"))),
        swings=read["swings"],
        checkins=read["checkins"],
        session_clubs=read["session_clubs"],
        plans=read["plans"],
        warm_ups=frozenset(read["shots"].filter("is_warmed_up")["session_id"]),
        standards=dict(players.select("player_id", "standard").drop_nulls().rows()),
        homes=dict(players.select("player_id", "course").drop_nulls().rows()),
        norms=read["norms"],
    )
    owned = read["shots"].filter(pl.col("player_id") == pl.col("owner_id"))
    return trial_tables(_as_struck(owned), read["declared"], around, academy)


def _as_struck(shots: pl.DataFrame) -> pl.DataFrame:
    return shots.drop("player_id").rename({"struck_by": "player_id"}).sort("trial_id", "struck_at", "session_id", "shot_no")


def begin_trials(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:
    """Let the crew begin with trials: of what a night writes they read summaries, load and the squad's norms."""
    begin(con, trials_by_player(con, academy, as_of), _BLOCKS_AHEAD)


def measure_trials(con: duckdb.DuckDBPyConnection, academy: Academy, as_of: date) -> None:
    """Analyse every trial that is declared or has shots up to ``as_of``, and write the trial tables."""
    end(con, TRIALS, lambda: trials_by_player(con, academy, as_of))


def trial_tables(shots: pl.DataFrame, declared: pl.DataFrame, around: Around, academy: Academy) -> dict[str, pl.DataFrame]:
    """The rows of every trial table, from frames alone."""
    rows: dict[str, list[Any]] = {table.name: [] for table in TABLES}
    struck = {str(key[0]): part for key, part in shots.partition_by("trial_id", as_dict=True, maintain_order=True).items()}
    named = {row["trial_id"]: row for row in declared.iter_rows(named=True)}
    for trial_id in sorted(set(struck) | set(named)):
        question = _question(trial_id, named.get(trial_id), struck.get(trial_id))
        own = struck.get(trial_id, shots.clear()).filter(
            pl.col("counts") & (pl.col("player_id") == question.player_id) & pl.col("arm").is_not_null()
        )
        if own.is_empty():
            rows["trial_result"].append(
                _planned_row(question, named.get(trial_id), around.homes.get(question.player_id, academy.course))
            )
            continue
        _add_trial(rows, _one_club(own), question, around, academy, _kept_to_sheet(own, named.get(trial_id)))
    return {name: _table_frame(name, found) for name, found in rows.items()}


def _table_frame(name: str, found: list[Any]) -> pl.DataFrame:
    schema = core_tables()[name].polars_schema()
    frames = [part for part in found if isinstance(part, pl.DataFrame)]
    if frames:
        return pl.concat(frames).select(pl.col(column).cast(kind) for column, kind in schema.items())
    return pl.DataFrame([{column: row.get(column) for column in schema} for row in found], schema=schema)


def _question(trial_id: str, row: Row | None, shots: pl.DataFrame | None) -> TrialQuestion:
    """What the trials file says; without one, what the arms of the shots are called."""
    seen = [] if shots is None else shots["arm"].drop_nulls().unique(maintain_order=True).to_list()
    if row is not None:
        named = arms_in(row["arms"])
        arms = (*dict.fromkeys(named), *(arm for arm in seen if arm not in named))
        return TrialQuestion(trial_id, row["player_id"], row["question"], row["normal_arm"], arms)
    normal = next((arm for arm in seen if arm.casefold() in NORMAL_WORDS), "normal")
    arms = (normal, *(arm for arm in seen if arm != normal))
    player = "" if shots is None else str(shots["player_id"][0])
    return TrialQuestion(trial_id, player, "", normal, arms)


@dataclass(frozen=True)
class KeptToSheet:
    """Whether a trial is declared, and how far its labels agree with what was declared."""

    is_declared: bool
    check: SheetCheck | None = None
    statements: tuple[str, ...] = ()
    is_unreadable: bool = False
    end: Row = field(default_factory=dict)

    def columns(self, notes: list[str]) -> Row:
        """Columns of ``trial_result``."""
        found = self.check
        is_full = found is not None and found.struck >= found.planned
        return {
            **self.end,
            "notes": [
                *notes,
                *(["sheet_unreadable"] if self.is_unreadable else []),
                *(["ended_settled"] if self.end.get("end_rule") == "settled" and not is_full else []),
            ],
            "sheet_planned": found.planned if found else None,
            "sheet_struck": found.struck if found else None,
            "sheet_differing": found.differing if found else None,
            "sheet_shrinks_to": found.shrinks_to if found else None,
        }


def _kept_to_sheet(own: pl.DataFrame, declared: Row | None) -> KeptToSheet:
    if declared is None:
        return KeptToSheet(is_declared=False)
    arms = arms_in(declared["arms"])
    statements = ["unknown_arm"] if set(own["arm"]) - set(arms) else []
    end = _end(declared)
    if declared["sheet"] is None:
        return KeptToSheet(True, statements=tuple(statements), end=end)
    try:
        planned = [[shot.arm for shot in typed_order(day, arms) if shot.arm is not None] for day in declared["sheet"].split("|")]
    except ValueError:
        return KeptToSheet(True, statements=tuple(statements), is_unreadable=True, end=end)
    days = in_order_struck(own).partition_by("session_id", maintain_order=True)
    check = check_against_sheet(planned, [day["arm"].to_list() for day in days])
    statements += [] if check.is_followed else ["sheet_not_followed"]
    return KeptToSheet(True, check, tuple(statements), end=end)


def _end(declared: Row | None) -> Row:
    """Columns of ``trial_result`` about the end of a trial."""
    return {name: declared[name] if declared else None for name in ("ended_on", "end_rule")}


def _planned_row(question: TrialQuestion, row: Row | None, home: str) -> Row:
    return {
        "trial_id": question.trial_id,
        "player_id": question.player_id,
        "question": question.question,
        "normal_arm": question.normal_arm,
        "arms": list(question.arms),
        "is_declared": row is not None,
        "began_on": row["began_on"] if row else None,
        "n_shots": 0,
        "n_days": 0,
        "state": "planned",
        "statements": [],
        "notes": [],
        "body_side": "unknown",
        "home_course": home,
        **_end(row),
    }


def _one_club(shots: pl.DataFrame) -> pl.DataFrame:
    """The shots with the club most used, where every arm has it; else all (then the club goes with the arm)."""
    clubs = shots.group_by("club").agg(pl.len(), pl.col("arm").n_unique()).sort("len", "club", descending=[True, False])
    if len(clubs) > 1 and clubs["arm"][0] == shots["arm"].n_unique():
        return shots.filter(pl.col("club") == clubs["club"][0])
    return shots


def _add_trial(
    rows: dict[str, list[Any]],
    own: pl.DataFrame,
    question: TrialQuestion,
    around: Around,
    academy: Academy,
    kept: KeptToSheet,
) -> None:
    standard = around.standards.get(question.player_id, academy.standard)
    home = around.homes.get(question.player_id, academy.course)
    costs = {course.name: CourseCost(course, standard, _run_m(own)) for course in (*DEFAULT_COURSES, *academy.courses)}
    reports, ratio = _body(own, question.player_id, around)
    side: BodySide = body_side(list(reports.values()), ratio)
    asked_by_load: BodySide = body_side([], ratio)  # the verdict stands on every reader's page: reports have no part in it
    analysis = trial_analysis(
        own,
        question,
        costs,
        home,
        np.random.default_rng(zlib.crc32(question.trial_id.encode())),
        body=asked_by_load,
        warm_up_sessions=around.warm_ups,
        overlapping=_overlaps(own, question, around.beside),
        labels=kept.statements,
        worths=_worths(own, around.norms),
    )
    result = result_row(analysis, home, side, ratio, is_declared=kept.is_declared)
    rows["trial_result"].append(result | kept.columns(result["notes"]))
    rows["trial_arm"] += arm_rows(analysis, trial_shots(own, question).frame)
    rows["trial_effect"] += effect_rows(analysis)
    rows["trial_dose"] += dose_rows(analysis)
    rows["trial_strokes"] += strokes_rows(analysis, home, {name: cost.tee_shots for name, cost in costs.items()})
    rows["trial_shot"].append(shot_rows(analysis))
    rows["trial_body"] += [ids(analysis) | {"metric": name} | vars(change) for name, change in reports.items() if change]
    _add_aftermath(rows, analysis, around)


def _worths(own: pl.DataFrame, norms: pl.DataFrame) -> Worths:
    """What is worthwhile on the trial's first day, for its club and carry."""
    clubs = own["club"].drop_nulls().value_counts(sort=True)["club"].to_list() or ["driver"]
    carry: float | None = own["carry_m"].median()  # type: ignore[assignment] # of numbers
    mine = norms.filter(pl.col("player_id") == own["player_id"][0])
    return worths_in_force(mine, CLUB_GROUP.get(clubs[0], "driver"), own["on_date"].min(), carry)  # type: ignore[arg-type]


def _run_m(own: pl.DataFrame) -> float:
    """Bounce and run of the trial's shots: the usual share of carry, to whole 2 m."""
    carry = own["carry_m"].median()
    return 2.0 * round(USUAL_RUN_SHARE * float(carry) / 2) if carry is not None else 20.0  # type: ignore[arg-type]


def _add_aftermath(rows: dict[str, list[Any]], analysis: TrialAnalysis, around: Around) -> None:
    player = pl.col("player_id") == analysis.question.player_id
    sessions = around.session_clubs.filter(player)
    plans = around.plans.filter(player)
    rows["trial_since"] += since_rows(analysis, sessions, plans)
    rows["trial_alternative"] += alternative_rows(analysis, sessions, plans)


def _overlaps(own: pl.DataFrame, question: TrialQuestion, shots: pl.DataFrame) -> bool:
    """Whether another trial of the player has shots of two arms or more in the same sessions."""
    others = shots.filter(
        (pl.col("player_id") == question.player_id)
        & (pl.col("trial_id") != question.trial_id)
        & pl.col("session_id").is_in(own["session_id"].unique().to_list())
    )
    return others["arm"].n_unique() > 1


def _body(own: pl.DataFrame, player_id: str, around: Around) -> tuple[dict[str, ReportChange | None], float | None]:
    """Change of every rating, and of load, in the trial's weeks (to the end of its last week) against the 28 days before."""
    first: date = own["on_date"].min()  # type: ignore[assignment]
    last: date = own["on_date"].max()  # type: ignore[assignment]
    last += LAST_WEEK
    player = pl.col("player_id") == player_id
    answers = around.checkins.filter(player)
    before = answers.filter(pl.col("date").is_between(first - WEEKS_BEFORE, first, closed="left"))
    during = answers.filter(pl.col("date").is_between(first, last))
    changes = {
        name: report_change(*(part[name].drop_nulls().cast(pl.Float64).to_numpy() for part in (before, during)))
        for name in RATINGS
    }
    known = around.swings.filter(player).drop_nulls("swings_full")
    rates = [
        _swings_a_day(known, begin, end) for begin, end in ((first - WEEKS_BEFORE, first), (first, last + timedelta(days=1)))
    ]
    return changes, load_ratio(*rates) if (last - first).days >= 6 else None


def _swings_a_day(known: pl.DataFrame, begin: date, end: date) -> float | None:
    """Full swings a day from ``begin`` to before ``end``; unknown when fewer than five of seven days are known."""
    inside = known.filter(pl.col("on_date").is_between(begin, end, closed="left"))["swings_full"]
    return float(inside.sum()) / len(inside) if len(inside) * 7 >= 5 * (end - begin).days else None
