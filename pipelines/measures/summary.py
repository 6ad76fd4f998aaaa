"""Summary of a session: centre, spread, mishits and scatter of the counting shots, by player and group of clubs."""

from __future__ import annotations

import polars as pl

from pipelines.measures.grouping import by_group
from pipelines.measures.scatter.rings import FAR_AT, MAD_TO_SD
from pipelines.measures.scatter.wild import MEAN_DEVIATION_TO_SD, ONE_IN_A_HUNDRED

SESSION_GRAIN = ("session_id", "player_id", "club_group")
MODIFIED_Z_CUT = 3.5
FEWEST_FOR_SPREAD = 3
FEWEST_FOR_SCATTER = 5
FEWEST_FOR_MISHITS = 8
FEWEST_FOR_WILD = 8
MISHIT_DISTANCE2 = 9.210340371976184  # chi-square, 2 degrees of freedom, 99 %: -2 ln 0.01
LEAST_SPREAD_SHARE = 0.01
FAR, MAD = "offline_m_far", "offline_m_mad"

_OF_SESSION = ("on_date", "session_kind", "device_id", "ball", "indoors")


def clubs_of_sessions(shots: pl.DataFrame) -> pl.DataFrame:
    """How often each session struck each club: session_id, player_id, club_group, club, on_date, n_shots."""
    return shots.group_by(*SESSION_GRAIN, "club", "on_date").agg(pl.len().cast(pl.Int64).alias("n_shots"))


def main_club(struck: pl.DataFrame) -> pl.DataFrame:
    """Club that each session struck most in each group, and whether it is the player's usual one by then.

    Clubs of a group differ by more than a player changes in months, so a session is summarised by one club.

    Parameters
    ----------
    struck : polars.DataFrame
        As :func:`clubs_of_sessions` returns them, of counting shots. No nulls.

    Returns
    -------
    polars.DataFrame
        session_id, player_id, club_group, club, is_usual_club, n_group_shots; sorted by the first three.
        Of equals the first by name. Usual: most struck by that player in that group on or before that day, so that
        later sessions change nothing.

    Notes
    -----
    Counting only; nothing is estimated.
    Source: common practice (a distance or speed is quoted for a named club).
    """
    counted = struck.rename({"n_shots": "n"})
    until = _most_struck_until(counted)
    return (
        counted.sort(*SESSION_GRAIN, -pl.col("n"), "club")
        .group_by(*SESSION_GRAIN, maintain_order=True)
        .agg(pl.col("club").first(), pl.col("on_date").first(), pl.col("n").sum().cast(pl.Int64).alias("n_group_shots"))
        .join(until, on=["player_id", "club_group", "on_date"], how="left", maintain_order="left")
        .with_columns((pl.col("club") == pl.col("usual_club")).alias("is_usual_club"))
        .select(*SESSION_GRAIN, "club", "is_usual_club", "n_group_shots")
    )


def _most_struck_until(counted: pl.DataFrame) -> pl.DataFrame:
    days = counted.select("player_id", "club_group", "on_date").unique()
    clubs = counted.select("player_id", "club_group", "club").unique()
    of_day = counted.group_by("player_id", "club_group", "club", "on_date").agg(pl.col("n").sum())
    filled = days.join(clubs, on=["player_id", "club_group"]).join(
        of_day, on=["player_id", "club_group", "club", "on_date"], how="left"
    )
    running = filled.sort("player_id", "club_group", "club", "on_date").with_columns(
        pl.col("n").fill_null(0).cum_sum().over("player_id", "club_group", "club").alias("n_until")
    )
    return (
        running.sort("player_id", "club_group", "on_date", -pl.col("n_until"), "club")
        .group_by("player_id", "club_group", "on_date", maintain_order=True)
        .agg(pl.col("club").first().alias("usual_club"))
    )


def _median(name: str) -> pl.Expr:
    return pl.col(name).median().over(*SESSION_GRAIN)


def _deviation(name: str) -> pl.Expr:
    return (pl.col(name) - pl.col(f"{name}_median")).abs()


def _with_robust_scale(shots: pl.DataFrame, names: list[str]) -> pl.DataFrame:
    """Add median and robust standard deviation of each quantity within its session and group."""
    return (
        shots.with_columns(_median(name).alias(f"{name}_median") for name in names)
        .with_columns((_deviation(name).median().over(*SESSION_GRAIN)).alias(f"{name}_mad") for name in names)
        .with_columns(
            pl.when(pl.col(f"{name}_mad") > 0)
            .then(pl.col(f"{name}_mad") * MAD_TO_SD)
            .otherwise(_deviation(name).mean().over(*SESSION_GRAIN) * MEAN_DEVIATION_TO_SD)
            .alias(f"{name}_sd")
            for name in names
        )
    )


def _kept(name: str) -> pl.Expr:
    return pl.col(name).filter(_deviation(name) <= MODIFIED_Z_CUT * pl.col(f"{name}_sd"))


def _centre_and_spread(name: str) -> list[pl.Expr]:
    kept = _kept(name)
    return [
        kept.count().cast(pl.Int64).alias(f"{name}_n"),
        kept.mean().alias(f"{name}_centre"),
        pl.when(kept.count() >= FEWEST_FOR_SPREAD).then(kept.std()).alias(f"{name}_spread"),
    ]


def session_summary(
    shots: pl.DataFrame, metrics: tuple[str, ...], scatter: tuple[str, ...], struck: pl.DataFrame | None = None
) -> pl.DataFrame:
    """Centre, spread, mishits and scatter [units of each quantity] per session, player and group of clubs.

    Idealisation: within a session a quantity is normal about one level, with a few shots that do not belong.

    Parameters
    ----------
    shots : polars.DataFrame, shape (n,)
        One row per counting shot: session_id, player_id, club_group, club, on_date, session_kind, device_id, ball,
        indoors, and the quantities, each with nulls where it was not measured. Must hold offline_m, carry_m and
        ball_speed_mps for the mishit rule.
    metrics : tuple of str
        Quantities whose centre and spread are wanted.
    scatter : tuple of str
        Quantities [m] whose log mean absolute deviation is wanted.
    struck : polars.DataFrame, optional
        As :func:`clubs_of_sessions` returns them, of these sessions and of earlier ones, which tell what club is usual; without
        it these alone do.

    Returns
    -------
    polars.DataFrame
        One row per session_id, player_id, club_group, sorted by them; columns of ``session_club``.

    Raises
    ------
    polars.exceptions.ColumnNotFoundError
        When a quantity is missing from the frame.

    Notes
    -----
    Only the club most struck in the group counts (:func:`main_club`).

    * Centre: mean of the values x with 0.6745 abs(x - median) / MAD <= 3.5; where MAD is 0 the mean absolute deviation,
      times the square root of pi/2, stands for the standard deviation. Spread: standard deviation (n - 1) of the same
      values. n counts them. Null with n = 0, and the spread with n < 3. The spread of clean normal shots comes out 10 %
      low with 10 shots, 3 % with 20, 2 % with 40 (own simulation).
    * Scatter: log of the mean of min(abs(x - median), 3.5 MAD), the capped mean absolute deviation; with at least 5
      values, else null with the reason ``too_few`` (``not_measured`` without any, ``no_spread`` when MAD is 0).
      Its sampling standard deviation is about sqrt(0.6 / n).
    * Mishits: see :func:`is_outlying_shot`. Wild shots: see :func:`is_wild_shot`.

    Source: [IglewiczHoaglin1993], modified z-score.
    Checked: tests/published/test_session_summary.py.
    """
    club_of_session = main_club(clubs_of_sessions(shots) if struck is None else struck)
    own = shots.join(club_of_session, on=[*SESSION_GRAIN, "club"], how="inner", maintain_order="left")
    names = sorted({*metrics, *scatter, "offline_m", "carry_m", "ball_speed_mps"})
    scaled = _with_robust_scale(own.sort(SESSION_GRAIN, maintain_order=True), names)  # the order of shots decides the last digit
    judged = scaled.with_columns(is_outlying_shot().alias("mishit"), is_wild_shot().alias("wild"))
    summary = by_group(judged, SESSION_GRAIN).agg(
        *(pl.col(name).first() for name in (*_OF_SESSION, "club", "is_usual_club", "n_group_shots")),
        pl.len().cast(pl.Int64).alias("n_shots"),
        *_mishits(),
        *(column for name in metrics for column in _centre_and_spread(name)),
        *(column for name in scatter for column in _log_mad(name)),
        _wild(),
        _deviation("offline_m").filter(_deviation("offline_m") > FAR_AT * MAD_TO_SD * pl.col("offline_m_mad")).alias(FAR),
        pl.col(MAD).first().alias(MAD),
        *(_lost() if "speed_ratio" in names else ()),
    )
    is_told = pl.col("offline_m_wild_n").is_not_null()
    return summary.with_columns(pl.when(is_told).then(name).alias(name) for name in (FAR, MAD)).sort(SESSION_GRAIN)


def is_outlying_shot() -> pl.Expr:
    """Whether a shot lies too far from the session's pattern to belong to it; null where that cannot be judged.

    Returns
    -------
    polars.Expr
        Boolean, over a frame with median and robust standard deviation of offline_m, carry_m and ball_speed_mps.

    Notes
    -----
    With carry and offline: squared distance ((offline - median) / sd)^2 + ((carry - median) / sd)^2 above the 99 %
    point of chi-square with two degrees of freedom, 9.21; sd from the MAD, never below 1 % of the median carry.
    Without them: ball speed more than 3 robust standard deviations below the session's median (never below 1 % of it).
    With fewer than 8 shots nothing is judged. Clean normal sessions of 10, 20, 40 and 60 shots give about 7, 3.5, 2 and
    1.7 % mishits by this rule (own simulation): compare rates of sessions of like length.
    Source: [Mahalanobis1936], distance; the cut is our rule.
    Checked: tests/published/test_session_summary.py.
    """
    least_m = LEAST_SPREAD_SHARE * pl.col("carry_m_median")
    distance2 = _distance2("offline_m", least_m) + _distance2("carry_m", least_m)
    least_mps = LEAST_SPREAD_SHARE * pl.col("ball_speed_mps_median")
    lost_mps = pl.col("ball_speed_mps_median") - pl.col("ball_speed_mps")
    slow = lost_mps > 3 * pl.max_horizontal(pl.col("ball_speed_mps_sd"), least_mps)
    judged = pl.coalesce(distance2 > MISHIT_DISTANCE2, slow)
    return pl.when(judged.count().over(*SESSION_GRAIN) >= FEWEST_FOR_MISHITS).then(judged)


def _distance2(name: str, least: pl.Expr) -> pl.Expr:
    return ((pl.col(name) - pl.col(f"{name}_median")) / pl.max_horizontal(pl.col(f"{name}_sd"), least)) ** 2


def wild_cut(n: pl.Expr) -> pl.Expr:
    """How many robust standard deviations from the median one shot in a hundred of n clean normal shots lies.

    Notes
    -----
    ``2.576 + 13/n + 20/n**2``: the normal quantile, and what median and MAD of few shots add (own simulation, 8 to 100 shots,
    within 0.2).

    Checked: tests/published/test_session_summary.py
    """
    return ONE_IN_A_HUNDRED + 13.0 / n + 20.0 / n**2


def is_wild_shot() -> pl.Expr:
    """Whether a shot ends so far to a side of the session's middle that one in a hundred of its usual shots would.

    Returns
    -------
    polars.Expr
        Boolean, over a frame with median and robust standard deviation of offline_m within session and group; null where it was
        not measured, or fewer than 8 shots were, or they show no spread.

    Notes
    -----
    ``abs(x - median) > c(n) 1.4826 MAD`` with :func:`wild_cut`, so that short and long sessions have the same share of clean
    shots beyond it: about 1 %. A pattern that is wider as a whole has no more wild shots.

    Source: [IglewiczHoaglin1993] for the robust score; the cut is our rule
    Checked: tests/published/test_session_summary.py
    """
    n = pl.col("offline_m").count().over(*SESSION_GRAIN)
    wild = _deviation("offline_m") > wild_cut(n) * MAD_TO_SD * pl.col("offline_m_mad")
    return pl.when(n >= FEWEST_FOR_WILD, pl.col("offline_m_mad") > 0).then(wild)


def _wild() -> pl.Expr:
    return pl.when(pl.col("wild").count() > 0).then(pl.col("wild").sum()).cast(pl.Int64).alias("offline_m_wild_n")


def _lost() -> list[pl.Expr]:
    """Shots that lost ball speed: how much of it, and how far to a side they ended."""
    told = pl.col("speed_ratio").is_not_null() & (_deviation("offline_m").is_not_null())
    lost = 1.0 - pl.col("speed_ratio") / pl.col("speed_ratio_median")
    is_lost = told & (lost > FAR_AT * pl.col("speed_ratio_sd") / pl.col("speed_ratio_median")) & (pl.col("offline_m_mad") > 0)
    return [
        told.sum().cast(pl.Int64).alias("speed_ratio_told_n"),
        lost.filter(is_lost).alias("speed_ratio_lost"),
        (_deviation("offline_m") / (MAD_TO_SD * pl.col("offline_m_mad"))).filter(is_lost).alias("speed_ratio_lost_side"),
    ]


def _mishits() -> list[pl.Expr]:
    mishit = pl.col("mishit")
    return [
        pl.when(mishit.count() > 0).then(mishit.sum()).cast(pl.Int64).alias("n_mishits"),
        pl.when(mishit.count() > 0).then(mishit.mean()).alias("mishit_rate"),
    ]


def _log_mad(name: str) -> list[pl.Expr]:
    n = pl.col(name).count()
    mad = pl.col(f"{name}_mad").first()
    capped = pl.min_horizontal(_deviation(name), MODIFIED_Z_CUT * pl.col(f"{name}_mad")).filter(pl.col(name).is_not_null())
    reason = (
        pl.when(n == 0)
        .then(pl.lit("not_measured"))
        .when(n < FEWEST_FOR_SCATTER)
        .then(pl.lit("too_few"))
        .when(mad <= 0)
        .then(pl.lit("no_spread"))
    )
    return [
        n.cast(pl.Int64).alias(f"{name}_scatter_n"),
        pl.when(reason.is_null()).then(capped.mean().log()).alias(f"{name}_log_mad"),
        reason.alias(f"{name}_log_mad_reason"),
    ]
