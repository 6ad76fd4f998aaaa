"""Rules that read the charts of session values: speed, scatter and aim have shifted from the player's own normal."""

from __future__ import annotations

import polars as pl

from pipelines.measures.flags.candidates import CANDIDATE_SCHEMA, candidates
from pipelines.measures.flags.chart_kinds import CHART_RULES, ChartRule
from pipelines.measures.flags.looks import share_of_looks, weight_of_shift, with_both_sums
from pipelines.measures.flags.moved import gain_ratios, moved
from pipelines.measures.flags.risen import with_chances_of_rise
from pipelines.measures.flags.rules import RULES
from pipelines.measures.flags.stated import likely_change, sessions_to_settle, true_spread
from pipelines.measures.trend.observations import natural
from pipelines.measures.trend.stall import OVER_AT, STALL_AT

HOLDS_AT, LISTED_AT = 0.02, 0.2
"""One-sided chances of so large a sum when nothing has happened: a notice stays open, is among the tests of the night."""

LIKELY_WORTH = 0.25
"""A notice needs so many smallest worthwhile changes that are likely to be real (:func:`.stated.likely_change`): of less there is
nothing to tell. Own choice."""

GROWTH_MOST = 3.4
"""More [%] than growth makes in eight weeks, in a spurt as well: one who surely gained so much did not only grow. Own choice."""

GROWTH_DOUBT = 2.0
"""By how much [%] a junior's level may leave the growth that is expected in a spurt or after it, without anything else having
happened: where too few sessions tell how it moved by itself, an alert needs so much more. Own choice."""

MOVED_SURELY = 0.90
"""How sure it must be that a level has moved by itself."""

GAINED_SURELY, GAIN_RATIO = 0.79, 5.0
"""Of one who grows less is enough, where the sessions are so much likelier with a gain than by growth (natural logarithm)."""

STEADY_SLOPE, LEAST_SHARE = 0.42, 0.15
"""Slope of a rise [smallest worthwhile changes, as they start, in 28 days] that may go on as it is, some 5 % a year; and down to
what share the chance of a bend is weighed where it was steeper. Own choice (seeds 101, 102, 2140 to 2147, 2161 to 2176)."""

WEEK_DAYS, SHOWN_SESSIONS = 7, 8

STREAM = ("metric", "player_id", "club_group", "club", "series")


def players_judged(rows: pl.DataFrame) -> pl.DataFrame:
    """How many players of the squad each kind of flag tested in the week up to each day.

    Parameters
    ----------
    rows : polars.DataFrame
        Sessions of the whole squad: metric, player_id, on_date.

    Returns
    -------
    polars.DataFrame
        kind, on_date (days with a session), n_players.

    Notes
    -----
    Counting only. Source: own rule. Checked: tests/unit/test_chart_rules.py
    """
    kinds = [(rule.kind, rule.metrics) for rule in CHART_RULES] + [("speed_stall", ("club_speed_mps",))]
    active = {
        metrics: _active(rows.filter(pl.col("metric").is_in(metrics)), _unit(len(metrics)), ()).rename({"n_active": "n_players"})
        for metrics in dict.fromkeys(metrics for _, metrics in kinds)
    }
    parts = [active[metrics].select(pl.lit(kind).alias("kind"), "on_date", "n_players") for kind, metrics in kinds]
    return pl.concat(parts).sort("kind", "on_date")


def _unit(n_metrics: int) -> tuple[str, ...]:
    return ("player_id", "metric") if n_metrics > 1 else ("player_id",)


def chart_candidates(points: pl.DataFrame, tested: pl.DataFrame) -> pl.DataFrame:
    """Candidates of all rules that read charts.

    Parameters
    ----------
    points : polars.DataFrame
        Points of :class:`pipelines.measures.trend.assembly.Trends`, in the change unit, of some players or all.
    tested : polars.DataFrame
        From :func:`players_judged`, of the whole squad.

    Returns
    -------
    polars.DataFrame
        Schema of candidates.

    Notes
    -----
    The p-value is the chance of both sums (:func:`.looks.with_both_sums`), times the player's share of three looks a week, and
    more where that is small (:func:`.looks.weight_of_shift`; not of wild shots). Opens: it is at most ``opens_at`` (.002: about 5
    standard deviations when sessions are independent) and the level lies at least half of the smallest worthwhile change beyond
    the normal, a quarter of one is likely to be real, and the episode has not ended with this session: one that ends because the
    level lasts ends while it lies there. Holds: the chance is at most .02.
    The p-value counts toward an alert only where the trend is sure that the level lies far enough beyond the normal
    (``alert_worth``).

    Source: own rule on [GandyLau2012]
    Checked: tests/unit/test_chart_rules.py, tests/benchmarks/detection
    """
    streams = {metrics: _streams_of(points, metrics) for metrics in dict.fromkeys(rule.metrics for rule in CHART_RULES)}
    return pl.concat([_of_rule(streams[rule.metrics], rule, tested) for rule in CHART_RULES])


def _streams_of(points: pl.DataFrame, metrics: tuple[str, ...]) -> pl.DataFrame:
    """What rules that read the same charts share: their streams, counted, and how far levels have moved where a rule asks."""
    streams = with_both_sums(_with_counts(_of_streams(points.filter(pl.col("metric").is_in(metrics))), len(metrics)))
    rules = [rule for rule in CHART_RULES if rule.metrics == metrics]
    if any(rule.moved_worth > 0 for rule in rules):
        streams = pl.concat([streams, moved(streams, STREAM)], how="horizontal")
    for rule in rules:
        if rule.by_shots:
            higher = pl.col("level") - pl.col("usual") >= rule.worth * pl.col("worthwhile")
            streams = with_chances_of_rise(streams, STREAM, higher, HOLDS_AT)
    return streams


def stall_candidates(points: pl.DataFrame, tested: pl.DataFrame) -> pl.DataFrame:
    """Candidates of ``speed_stall``; see :func:`pipelines.measures.trend.stall.stall_scores`.

    Notes
    -----
    The p-value is the chance of the bend, times what one who comes so often is weighed by (:func:`.looks.weight_of_shift`), and
    times the square of how much less steep than the rise was one may be that goes on: gains of months come to an end, the sooner
    the larger they are a month.
    Opens: it is at most .01; holds: the chance of the bend is at most .2. Of one who grows it stays a notice: after a spurt
    growth slows down.

    Source: own rule
    Checked: tests/unit/test_chart_rules.py, tests/benchmarks/detection
    """
    of_speed = _of_streams(points.filter(pl.col("metric") == "club_speed_mps"))
    goes_on = ((STEADY_SLOPE / pl.col("stall_slope")) ** 2).clip(LEAST_SHARE, 1.0).fill_null(1.0)
    chance = goes_on * pl.col("p_stall") * weight_of_shift()
    judged = of_speed.with_columns(chance.alias("chance")).with_columns(
        (pl.col("chance") <= STALL_AT).alias("opens"),
        (pl.col("p_stall") <= OVER_AT).alias("holds"),
        pl.when(pl.col("growth") > 0).then(pl.max_horizontal("chance", pl.lit(LISTED_AT))).otherwise("chance").alias("p_value"),
    )
    counted = _with_players(_with_counts(judged, 1), tested, "speed_stall")
    held = pl.col("holds").shift(1).over(STREAM).fill_null(value=False)
    rows = _with_sources(counted, pl.col("holds") | held)
    return candidates(
        rows.select(
            *(
                pl.col(name)
                for name in ("player_id", "on_date", "metric", "club_group", "device_id", "sources", "opens", "holds")
            ),
            *(pl.col(name) for name in ("p_value", "n_streams", "n_players")),
            pl.lit("speed_stall").alias("kind"),
            (-pl.col("p_value").log10()).alias("strength"),
            natural(pl.col("level"), pl.col("metric")).alias("value"),
            natural(pl.col("level") - pl.col("change_28"), pl.col("metric")).alias("baseline"),
            natural(pl.col("level") - pl.col("level_half"), pl.col("metric")).alias("low"),
            natural(pl.col("level") + pl.col("level_half"), pl.col("metric")).alias("high"),
            pl.col("usual_n").alias("n"),
            _without_null(_reason("change_28", pl.col("change_28"))).alias("reasons"),
        )
    )


def _of_rule(rows: pl.DataFrame, rule: ChartRule, tested: pl.DataFrame) -> pl.DataFrame:
    n_sides = len(rule.sides)
    upward = pl.col("p_chart_up") <= pl.col("p_chart_down") if n_sides == 2 else pl.lit(rule.sides == ("up",), dtype=pl.Boolean)
    sided = rows.with_columns(upward.alias("upward")).with_columns(
        (_side("p_chart") * n_sides).clip(0.0, 1.0).alias("chance"),
        _side("chart").alias("sum"),
        (pl.when("upward").then(1.0).otherwise(-1.0) * (pl.col("level") - pl.col("usual"))).alias("beyond"),
    )
    weight = pl.col("looks") if rule.by_shots else weight_of_shift()
    sided = sided.with_columns((pl.col("chance") * weight).alias("p_value"))
    # Certain and small is no reason to act: the level itself must have left the normal by a worthwhile amount.
    beyond = pl.col("beyond").fill_null(-1.0)
    worth = (beyond >= rule.worth * pl.col("worthwhile")) & _likely_worth(rule)
    grows = pl.when(pl.col("growth") > 0).then(GROWTH_DOUBT).otherwise(0.0)
    excess = beyond - rule.alert_worth * pl.col("worthwhile") - grows
    surely = _normal_cdf(excess / pl.col("level_error")) >= rule.alert_surely
    if rule.moved_worth > 0:
        sided = sided.with_columns(gain_ratios(sided, STREAM, _asks_for_ratio()))
        surely = pl.when(pl.col("growth") > 0).then(pl.coalesce(_moved(rule), surely)).otherwise(surely & _gained(rule))
    judged = sided.with_columns(
        (worth & (pl.col("p_value") <= rule.opens_at * n_sides) & (pl.col("ended") == "")).alias("opens"),
        (_is_open(rule) & (pl.col("ended") == "")).alias("holds"),
        pl.when(surely).then("p_value").otherwise(pl.max_horizontal("p_value", pl.lit(LISTED_AT))).alias("p_value"),
    )
    counted = _with_players(judged, tested, rule.kind)
    held = pl.col("holds").shift(1).over(STREAM).fill_null(value=False)
    said = pl.col("opens") | pl.col("holds") | held | (pl.col("p_value") < LISTED_AT)
    told = _with_sources(counted, said)
    return pl.DataFrame(schema=CANDIDATE_SCHEMA) if told.is_empty() else candidates(told.select(_evidence(rule)))


def _likely_worth(rule: ChartRule) -> pl.Expr:
    """So much of the change is likely to be real that it is worth telling; of wild shots all of them are asked."""
    if rule.by_shots:
        return pl.lit(value=True)
    return (_likely() >= LIKELY_WORTH * pl.col("worthwhile")).fill_null(value=False)


def _moved(rule: ChartRule) -> pl.Expr:
    """Of one who grows: the level has surely moved by itself, by more than growth does; null where that is not known."""
    fallen = (pl.col("fallen") - rule.moved_worth * pl.col("worthwhile")) / pl.col("fallen_error")
    risen = _outgrew() & (pl.col("gain_ratio") >= GAIN_RATIO)
    return pl.when("upward").then(pl.when(_outgrew().is_not_null()).then(risen)).otherwise(_normal_cdf(fallen) >= MOVED_SURELY)


def _outgrew() -> pl.Expr:
    """More was surely gained within eight weeks than growth makes; null where that is not known."""
    return _normal_cdf((pl.col("gained") - GROWTH_MOST) / pl.col("gained_error")) >= GAINED_SURELY


def _asks_for_ratio() -> pl.Expr:
    """Where the ratio decides whether a rise is sure: elsewhere it is not, or its chance is too large to count."""
    return pl.col("upward") & (pl.col("p_value") < LISTED_AT) & _outgrew()


def _gained(rule: ChartRule) -> pl.Expr:
    """What lies beyond the normal came within eight weeks, as far as that is known: who gains slowly is told among what lasts."""
    if rule.gain_worth == 0.0:
        return pl.lit(value=True)
    gained = (pl.col("gained") - rule.gain_worth * pl.col("worthwhile")) / pl.col("gained_error")
    return (_normal_cdf(gained) >= MOVED_SURELY).fill_null(value=True)


def _is_open(rule: ChartRule) -> pl.Expr:
    """While the episode of the chart is open, and before it where the chance of the sum is small."""
    return (pl.col("chance") <= HOLDS_AT * len(rule.sides)) | (pl.col("upward") == (pl.col("episode") > 0)) & (
        pl.col("episode") != 0
    )


def _side(name: str) -> pl.Expr:
    return pl.when("upward").then(f"{name}_up").otherwise(f"{name}_down")


def _without_null(*reasons: pl.Expr) -> pl.Expr:
    return pl.concat_list(*reasons).list.drop_nulls()


def _reason(code: str, value: pl.Expr) -> pl.Expr:
    return pl.format(code + "={}", value.round(2))


def _ended() -> pl.Expr:
    """How the chart's episode ended, by where the level lies.

    One that lasts may have lost most of it, and one that is no longer clearly beyond the normal need not be back at it.
    """
    worth = pl.col("beyond") >= pl.col("worthwhile")
    back = pl.when(worth).then(pl.lit("not_clear")).otherwise(pl.lit("back"))
    return pl.when(pl.col("ended") == "back").then(back).when(worth).then(pl.col("ended")).otherwise(pl.lit("small"))


def _drawn(rule: ChartRule) -> tuple[pl.Expr, pl.Expr]:
    """How much of the change is likely to be real and how many sessions would settle it.

    Of wild shots neither where all shots tell the rise: what sessions alone would say of it is ten times too little then.
    """
    likely = pl.when("upward").then(1.0).otherwise(-1.0) * _likely()
    settle = sessions_to_settle(pl.col("beyond"), pl.col("usual_sd"), pl.col("usual_n"))
    if not rule.by_shots:
        return likely, settle
    unsure = pl.col("p_value") > RULES[rule.kind].largest_p_value
    return pl.when(unsure).then(likely), pl.when(unsure).then(settle)


def _evidence(rule: ChartRule) -> list[pl.Expr]:
    metric, (likely, settle) = pl.col("metric"), _drawn(rule)
    return [
        *(pl.col(name) for name in ("player_id", "on_date", "metric", "club_group", "device_id", "opens", "holds", "p_value")),
        *(pl.col(name) for name in ("n_streams", "n_players", "sources")),
        pl.lit(rule.kind).alias("kind"),
        (-pl.col("p_value").log10()).alias("strength"),
        natural(pl.col("level"), metric).alias("value"),
        natural(pl.col("usual"), metric).alias("baseline"),
        natural(pl.col("level") - pl.col("level_half"), metric).alias("low"),
        natural(pl.col("level") + pl.col("level_half"), metric).alias("high"),
        pl.col("usual_n").alias("n"),
        _without_null(
            _reason("chart", pl.col("sum")),
            _reason("beyond_usual", pl.when("upward").then("beyond").otherwise(-pl.col("beyond"))),
            _reason("worthwhile", pl.col("worthwhile")),
            _reason("likely", likely),
            pl.format("retest={}", settle),
            pl.format("chance={}", pl.col("chance").round(5)),
            pl.when(pl.col("ended") != "").then(pl.format("closed:{}", pl.col("ended") if rule.by_shots else _ended())),
        ).alias("reasons"),
    ]


def _likely() -> pl.Expr:
    """How much of what lies beyond the normal is likely to be real."""
    return likely_change(pl.col("beyond"), _error(), true_spread(pl.col("metric")) * pl.col("worthwhile"))


def _error() -> pl.Expr:
    """Standard error of the level less the normal."""
    return (pl.col("level_error") ** 2 + pl.col("usual_sd") ** 2 / pl.col("usual_n")).sqrt()


def _normal_cdf(z: pl.Expr) -> pl.Expr:
    """Within 0.0002: a logistic curve with a cubic term is enough for a probability that is shown in per cent."""
    return 1.0 / (1.0 + (-(1.5976 * z + 0.07056 * z**3)).exp())


def _of_streams(points: pl.DataFrame) -> pl.DataFrame:
    """One row per stream and day (the last session of the day), and ``looks``, how often the player comes."""
    days = points.sort(*STREAM, "on_date", "session_id").unique([*STREAM, "on_date"], keep="last", maintain_order=True)
    return days.with_columns(share_of_looks(STREAM).alias("looks"))


def _with_sources(streams: pl.DataFrame, told: pl.Expr) -> pl.DataFrame:
    """Rows of streams that are told, each with the last sessions up to it as sources."""
    numbered = streams.with_columns(told.alias("told"), pl.int_range(pl.len()).over(STREAM).alias("number"))
    rows = numbered.filter("told").drop("told")
    of = numbered.join(rows.select(STREAM).unique(), on=STREAM, how="semi", maintain_order="left")
    ids = of.group_by(*STREAM, maintain_order=True).agg(pl.col("session_id").alias("all_sessions"))
    begin = (pl.col("number") - SHOWN_SESSIONS + 1).clip(0)
    return (
        rows.join(ids, on=STREAM, how="left", maintain_order="left")
        .with_columns(pl.col("all_sessions").list.slice(begin, pl.col("number") - begin + 1).alias("sources"))
        .drop("all_sessions")
    )


def _with_players(judged: pl.DataFrame, tested: pl.DataFrame, kind: str) -> pl.DataFrame:
    """Players of the squad that were tested in the week up to the night."""
    players = tested.filter(pl.col("kind") == kind).select("on_date", "n_players")
    return judged.join(players, on="on_date", how="left", maintain_order="left")


def _with_counts(streams: pl.DataFrame, n_metrics: int) -> pl.DataFrame:
    """Streams of the player that were tested in the week up to the night; of nights of which no point is asked, nothing."""
    own, since = _unit(n_metrics), streams.filter(pl.col("level").is_not_null())["on_date"].min()
    weeks = streams if since is None else streams.filter(pl.col("on_date") > pl.lit(since) - pl.duration(days=WEEK_DAYS))
    active = _active(weeks, STREAM, own).rename({"n_active": "n_streams"})
    return streams.join(active, on=[*own, "on_date"], how="left", maintain_order="left")


def _active(judged: pl.DataFrame, unit: tuple[str, ...], within: tuple[str, ...]) -> pl.DataFrame:
    """How many units had a session in the week up to each day, within groups."""
    days = judged.select(*unit, "on_date").unique().sort(*unit, "on_date")
    next_day = pl.col("on_date").shift(-1).over(unit)
    until = pl.min_horizontal(next_day, pl.col("on_date") + pl.duration(days=WEEK_DAYS))
    begins = days.select(*within, pl.col("on_date").alias("on"), pl.lit(1).alias("change"))
    ends = days.with_columns(until.alias("on")).select(*within, "on", pl.lit(-1).alias("change"))
    changes = pl.concat([begins, ends]).group_by(*within, "on").agg(pl.col("change").sum()).sort(*within, "on")
    total = pl.col("change").cum_sum()
    running = changes.with_columns((total.over(within) if within else total).cast(pl.Int64).alias("n_active"))
    wanted = judged.select(*within, "on_date").unique()
    return wanted.join(running.select(*within, pl.col("on").alias("on_date"), "n_active"), on=[*within, "on_date"], how="left")
