"""The shots of a trial from above, arm by arm, on a fairway of the course that counts."""

from __future__ import annotations

from statistics import median
from typing import TYPE_CHECKING, Any

import polars as pl
from markupsafe import Markup

from reports.chart_shapes import RING_SCHEMA, corners_of, ring
from reports.findings.ball import course_phrase
from reports.findings.flags import sided
from reports.findings.trials import arm_name, scatter_sentence
from reports.markup import joined
from reports.pages.parts import bullets, paragraph, section
from schemas.course import DEFAULT_COURSES

if TYPE_CHECKING:
    from reports.pages.context import PageContext
    from reports.trial_rows import TrialRows
    from schemas.course import Course


def _course(trial: TrialRows, context: PageContext) -> Course | None:
    every = {course.name: course for course in (*DEFAULT_COURSES, *context.academy.courses)}
    return every.get(trial.result["home_course"])


def _widths(course: Course | None) -> tuple[float, float | None]:
    """Middle fairway width [m] of the course, and how far beyond its edge trees begin where most tee shots have them."""
    if course is None:
        return 32.0, None
    trees = [side.trees_from_m for shot in course.tee_shots for side in (shot.left, shot.right) if side.trees_from_m is not None]
    return median(shot.fairway_m for shot in course.tee_shots), median(trees) if len(trees) > len(course.tee_shots) else None


def _ground(trial: TrialRows, context: PageContext, corners: pl.DataFrame) -> dict[str, pl.DataFrame]:
    factor = context.numbers.quantity("spread").factor
    width, trees = _widths(_course(trial, context))
    low, high = corners["carry"]
    half = width / 2 * factor
    edge = None if trees is None else (width / 2 + trees) * factor
    reach = corners["offline"][1]
    edges = [sign * edge for sign in (-1, 1)] if edge is not None and edge < reach else []
    return {
        "fairway": pl.DataFrame({"left": [-half], "right": [half], "low": [low], "high": [high]}),
        "edges": pl.DataFrame({"offline": edges}, schema={"offline": pl.Float64}),
    }


def _rings(arm: dict[str, Any], normal: dict[str, Any] | None, factor: float) -> pl.DataFrame:
    points: list[tuple[float, float, int, str]] = []
    for name, row in (("own", arm), ("normal", normal)):
        if row is None or row["ellipse_long_m"] is None or (name == "normal" and row["is_normal"] and arm["is_normal"]):
            continue
        halves = (row["ellipse_long_m"], row["ellipse_short_m"], row["ellipse_tilt_deg"])
        points += ring(row["carry_m"], row["offline_m"], *halves, name)
    frame = pl.DataFrame(points, schema=RING_SCHEMA, orient="row")
    return frame.with_columns((pl.col("offline", "carry") * factor).round(2))


def plans(trial: TrialRows, context: PageContext) -> Markup:
    """One plan view for each arm, all in one scale; nothing where no place is known."""
    landed = trial.shot.drop_nulls(["carry_m", "offline_m"])
    if landed.is_empty():
        return Markup("")
    words, factor = context.words, context.numbers.quantity("spread").factor
    shown = landed.select(
        "arm",
        (pl.col("offline_m") * factor).round(1).alias("offline"),
        (pl.col("carry_m") * factor).round(1).alias("carry"),
        pl.col("on_date").alias("day"),
        pl.col("is_mishit").alias("missed"),
    )
    corners = corners_of(shown["offline"], shown["carry"])
    ground = _ground(trial, context, corners)
    arms = trial.arm.filter(pl.col("arm").is_in(landed["arm"].unique().to_list())).sort("amount").to_dicts()
    normal = next((arm for arm in arms if arm["is_normal"]), None)
    figures = []
    for arm in sorted(arms, key=lambda one: (not one["is_normal"], one["amount"])):
        rows = shown.filter(pl.col("arm") == arm["arm"]).drop("arm")
        data = {"rows": rows, "frame": corners, "rings": _rings(arm, normal, factor), **ground}
        figures.append(_plan(arm, data, context))
    width, trees = _widths(_course(trial, context))
    note = words(
        "trial.lands.ground",
        width=context.numbers.with_unit("spread", width),
        course=course_phrase(trial.result["home_course"], words),
        trees=words("trial.lands.trees") if trees is not None else "",
        unit=context.numbers.unit("spread"),
    )
    return joined([Markup('<div class="pair">{}</div>').format(joined(figures)), paragraph(note, "quiet-note")])


def _plan(arm: dict[str, Any], data: dict[str, pl.DataFrame], context: PageContext) -> Markup:
    words, numbers = context.words, context.numbers
    name = arm_name(arm, words)
    count = words.count("n.shots", data["rows"].height)
    offline = sided(numbers, "spread", arm["offline_m"]) if arm["offline_m"] is not None else words("trial.lands.on_line")
    caption = words(
        "trial.lands.caption",
        arm=name,
        n=count,
        mishits=words.count("trial.mishit_count", int(data["rows"]["missed"].sum())),
        dashed="" if arm["is_normal"] or data["rings"].is_empty() else words("trial.lands.dashed"),
    )
    alt = words(
        "trial.lands.alt",
        arm=name,
        n=count,
        carry=numbers.with_unit("carry", arm["carry_m"]),
        offline=offline,
        spread=numbers.with_unit("spread", arm["offline_sd_m"]),
    )
    title = words("trial.lands.title", arm=name, unit=numbers.unit("spread"))
    return context.figure("trial_plan", data, title=title, caption=caption, alt=alt)


def lands_section(trial: TrialRows, context: PageContext) -> Markup:
    """Where the shots of every arm landed, and whether scatter changed."""
    known = [arm for arm in trial.arm.sort("amount").to_dicts() if arm["left_right_ratio"] is not None]
    sentences = [scatter_sentence(arm, context.numbers) for arm in known] or [context.words("trial.lands.too_few")]
    return section(context.words("trial.lands.question"), sentences[0], bullets(sentences[1:]), plans(trial, context))
