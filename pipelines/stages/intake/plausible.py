"""Warnings inside the limits: they stay with a row, and files whose numbers look as if in other units."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from pipelines.measures.air import pressure_at_altitude_pa
from pipelines.stages.intake.own_speeds import speeds_nothing_speaks_for
from pipelines.stages.intake.people import folded
from schemas.clubs import club_group
from schemas.units import UNITS

if TYPE_CHECKING:
    from pipelines.stages.intake.check import Known
    from schemas.files import FileKind

WARNINGS = {"row": pl.Int64(), "column": pl.String(), "value": pl.String(), "rule": pl.String()}

_RATIO_LIMIT = {"driver": 1.51, "fairway": 1.50, "hybrid": 1.48, "iron": 1.46, "wedge": 1.38}
"""Speed ratio above which a reading is doubted, by group of clubs: about 0.02 to 0.06 above what a centred strike gives
(common practice); the contract itself refuses more than 1.53."""
_MOST_CARRY_PER_SPEED = 4.0
"""Carry [m] over ball speed [m/s]: about 3.3 for a well-hit driver and 3.8 for the longest drives (common practice)."""
_FAST = 45.0
"""Ball speed [m/s] above which a shot is a full one, so that carry over ball speed hardly varies."""
_LEAST_CARRY_PER_SPEED = 1.72
"""What the longest drives give when their speeds are in mph; a wedge into a strong wind gives 1.8."""
_LEAST_SPIN_RPM = 250.0
"""Spin [rpm] that every full shot has: those that are hit well have 500 or more (common practice), and a topped ball more."""
_ENOUGH = 5
_DAY_S = 86_400


def _problem_rows(rows: pl.DataFrame, column: str, value: pl.Expr, rule: str) -> pl.DataFrame:
    return rows.select(
        pl.col("row").cast(pl.Int64),
        pl.lit(column).alias("column"),
        value.cast(pl.String).str.replace(".000000", "", literal=True).alias("value"),  # whole seconds, as they were written
        pl.lit(rule).alias("rule"),
    )


def _high_ratio(shots: pl.DataFrame) -> pl.DataFrame:
    ratio = pl.col("ball_speed_mps") / pl.col("club_speed_mps")
    limit = pl.col("club_group").replace_strict(_RATIO_LIMIT, default=None, return_dtype=pl.Float64)
    return _problem_rows(shots.filter(ratio > limit), "ball_speed_mps", ratio.round(3), "speed_ratio_high")


def _long_carry(shots: pl.DataFrame) -> pl.DataFrame:
    most = pl.when(pl.col("launch_deg") <= 0).then(1.5).otherwise(_MOST_CARRY_PER_SPEED) * pl.col("ball_speed_mps")
    warned = (pl.col("carry_m") > most) & (pl.col("carry_m") > 30)
    return _problem_rows(shots.filter(warned), "carry_m", pl.col("carry_m"), "carry_too_long")


def _low_spin(shots: pl.DataFrame) -> pl.DataFrame:
    """Full shots that hardly spin: thousands, revolutions a second, or a zero where nothing was read."""
    warned = (pl.col("ball_speed_mps") >= _FAST) & (pl.col("spin_rpm") < _LEAST_SPIN_RPM)
    return _problem_rows(shots.filter(warned), "spin_rpm", pl.col("spin_rpm"), "spin_too_low")


def _in_order(shots: pl.DataFrame) -> pl.DataFrame:
    """Shots by file, session and number; most files have them so already, and sorting is dear."""
    place = [pl.col(name) == pl.col(name).shift(1) for name in ("file", "session_id")]
    shots = shots.with_columns(pl.all_horizontal(place).fill_null(value=False).alias("same_place"))
    if not (shots["same_place"] & (shots["shot_no"] < shots["shot_no"].shift(1))).any():
        return shots
    ordered = shots.sort("file", "session_id", "shot_no")
    return ordered.with_columns(pl.all_horizontal(place).fill_null(value=False).alias("same_place"))


def _repeated(shots: pl.DataFrame) -> pl.DataFrame:
    """A shot with the same three or more readings as the one before it in its session."""
    names = ["club_speed_mps", "ball_speed_mps", "launch_deg", "carry_m", "spin_rpm"]
    equal = [(pl.col(name) == pl.col(name).shift(1)).fill_null(value=False) for name in names]
    differs = pl.any_horizontal((pl.col(name) != pl.col(name).shift(1)).fill_null(value=False) for name in names)
    again = pl.col("same_place") & (pl.sum_horizontal(equal) >= 3) & ~differs
    return _problem_rows(shots.filter(again), "shot_no", pl.col("shot_no"), "reading_repeated")


def _clock(shots: pl.DataFrame, known: Known) -> pl.DataFrame:
    """A shot before the one of the number before it, or more than a day away from its session."""
    back = shots.filter(pl.col("same_place") & (pl.col("struck_at") < pl.col("struck_at").shift(1)))
    found = [_problem_rows(back, "struck_at", pl.col("struck_at"), "clock_jumps")]
    if known.sessions is not None and "started_at" in known.sessions.columns:
        begun = known.sessions.select("session_id", "started_at")
        ends = shots.group_by("session_id").agg(pl.col("struck_at").min().alias("first"), pl.col("struck_at").max().alias("last"))
        away = [(pl.col(name) - pl.col("started_at")).dt.total_seconds().abs() > _DAY_S for name in ("first", "last")]
        odd = ends.join(begun, on="session_id").filter(pl.any_horizontal(away))
        rows = shots.join(odd, on="session_id").filter(
            (pl.col("struck_at") - pl.col("started_at")).dt.total_seconds().abs() > _DAY_S
        )
        found.append(_problem_rows(rows, "struck_at", pl.col("struck_at"), "clock_jumps"))
    return pl.concat(found).unique(["row", "rule"], keep="first", maintain_order=True)


def _future(kind: FileKind, rows: pl.DataFrame, known: Known) -> pl.DataFrame:
    found = [pl.DataFrame(schema=WARNINGS)]
    for name in ("struck_at", "started_at", "played_on", "date", "week_ending"):
        if name in kind.names and known.now is not None:
            late = pl.lit(known.now).dt.offset_by("2d" if name != "week_ending" else "9d")
            ahead = rows.filter(pl.col(name).cast(pl.Datetime("us")) > late)
            found.append(_problem_rows(ahead, name, pl.col(name), "in_the_future"))
    return pl.concat(found)


_YOUNGEST = 3
"""Age [years] below which nobody is a player (common practice)."""


def _newborn(players: pl.DataFrame, known: Known) -> pl.DataFrame:
    """Players whose year of birth is this one or lies ahead: written for another year."""
    if known.now is None:
        return pl.DataFrame(schema=WARNINGS)
    late = players.filter(pl.col("birth_year") > known.now.year - _YOUNGEST)
    return _problem_rows(late, "birth_year", pl.col("birth_year"), "born_too_late")


def _after_leaving(sessions: pl.DataFrame, known: Known) -> pl.DataFrame:
    """Sessions more than a day behind the day from which their player has left: rules and lists count nobody who is gone."""
    if known.left is None:
        return pl.DataFrame(schema=WARNINGS)
    late = pl.col("started_at").dt.date() > pl.col("left_on").dt.offset_by("1d")
    gone = sessions.join(known.left, on="player_id", maintain_order="left").filter(late)
    return _problem_rows(gone, "started_at", pl.format("{} (left_on {})", "started_at", "left_on"), "after_leaving")


_NAMED = {"plans": ("group_name", "group_of_nobody"), "players": ("course", "course_unknown")}


def _named_nowhere(kind: FileKind, rows: pl.DataFrame, known: Known) -> pl.DataFrame:
    """Plans of a group that nobody is in, and home courses that no settings know: they would count for nothing."""
    if known.named is None or kind.name not in _NAMED:
        return pl.DataFrame(schema=WARNINGS)
    name, code = _NAMED[kind.name]
    unknown = rows.filter(~pl.col(name).is_in(list(known.named)))
    return _problem_rows(unknown, name, pl.col(name), code)


def _alike_names(rows: pl.DataFrame, known: Known) -> pl.DataFrame:
    """Players called as another one is, by this file or by what is known of those of whom it says nothing."""
    before = pl.DataFrame(schema={"player_id": pl.String, "alias": pl.String}) if known.aliases is None else known.aliases
    others = before.select("player_id", "alias").join(rows, on="player_id", how="anti")
    called = pl.concat([rows.select("player_id", "alias"), others]).drop_nulls().unique()
    plain = pl.col("alias").map_elements(folded, return_dtype=pl.String).alias("plain")
    pairs = rows.with_columns(plain).join(called.with_columns(plain), on="plain", suffix="_other")
    alike = pairs.filter(pl.col("player_id") != pl.col("player_id_other")).sort("row", "player_id_other")
    first = alike.unique("row", keep="first", maintain_order=True)
    return _problem_rows(first, "alias", pl.format("{} ({})", "alias", "player_id_other"), "alias_of_another")


def _alike_ids(rows: pl.DataFrame, known: Known) -> pl.DataFrame:
    """Players whose ids differ from another's in capitals alone: a slip, and one file for two pages on some disks."""
    before = pl.DataFrame(schema={"player_id": pl.String}) if known.players is None else known.players.select("player_id")
    every = pl.concat([rows.select("player_id"), before]).drop_nulls().unique()
    plain = pl.col("player_id").str.to_lowercase().alias("plain")
    pairs = rows.with_columns(plain).join(every.with_columns(plain), on="plain", suffix="_other")
    alike = pairs.filter(pl.col("player_id") != pl.col("player_id_other")).sort("row", "player_id_other")
    first = alike.unique("row", keep="first", maintain_order=True)
    return _problem_rows(first, "player_id", pl.format("{} ({})", "player_id", "player_id_other"), "id_like_another")


_MOST_ABOVE_HPA = 45.0
"""How far weather lifts the pressure above that of the standard atmosphere at most: 1045 hPa at sea level is an extreme high in
most places (common practice)."""


def _reduced_pressure(sessions: pl.DataFrame, known: Known) -> pl.DataFrame:
    """Sessions whose pressure is far above what there is at their height: a weather service's, reduced to sea level."""
    height = sessions["altitude_m"].cast(pl.Float64).fill_null(float("nan") if known.altitude_m is None else known.altitude_m)
    standard = pl.Series("standard", pressure_at_altitude_pa(height.to_numpy()) / 100).fill_nan(None)
    high = sessions.with_columns(standard).filter(pl.col("air_pressure_hpa") > pl.col("standard") + _MOST_ABOVE_HPA)
    return _problem_rows(high, "air_pressure_hpa", pl.col("air_pressure_hpa"), "pressure_of_sea_level")


_SIDED = ("direction_deg", "spin_axis_deg", "path_deg", "face_deg", "curve_deg")
_LEAST_SIDE = {"direction_deg": 1.0, "spin_axis_deg": 3.0, "path_deg": 1.5, "face_deg": 1.2, "curve_deg": 1.5}
"""How far to one side a player's middle must lie to be a side at all [deg] (common practice: what a day moves it by).

Where balls end is left out: the wind of one day moves it to the other side. How they curve counts beside where they start,
which no wind moves.
"""
_CURVE = pl.when(pl.col("carry_m") > 0).then(
    pl.arctan2(pl.col("offline_m"), pl.col("carry_m")).degrees() - pl.col("direction_deg")
)
_ALONE = 2.0
"""How many times further to one side the one quantity must lie that alone was read (own choice)."""
_TURNED_AT, _TURNED_EACH, _TURNED_PLAYERS, _MOST_EACH = 9.0, 2.0, 3, 6.0
"""Of a file of several players: logarithm of how much likelier its sides are as the mirror of theirs, of all together, of those
who lie left and of those who lie right, how many players tell, and the most that one of them may say. A device that is set askew
moves the one half toward their mirror and the other half away from it. Own choice."""


def _swapped_sides(shots: pl.DataFrame, known: Known) -> pl.DataFrame:
    """Sessions whose left and right look mirrored: most sided quantities lie opposite to the player's own history.

    A quantity takes part when the player's history is clearly to one side: its middle over five sessions or more is at least
    two spreads, and what one day moves it by, away from zero. In a file of several players all take part, for each by how far to
    a side they lie.
    """
    if known.history is None or known.history.is_empty():
        return pl.DataFrame(schema=WARNINGS)
    middle = shots.group_by("file", "player_id", "session_id", "club_group").agg(
        *(pl.col(name).median() for name in _SIDED if name != "curve_deg"),
        _CURVE.median().alias("curve_deg"),
        pl.len().alias("n"),
        pl.col("row").min(),
    )
    wide = middle.filter(pl.col("n") >= 8).unpivot(
        _SIDED, index=["file", "player_id", "session_id", "club_group", "row"], variable_name="quantity", value_name="now"
    )
    least = pl.col("quantity").replace_strict(_LEAST_SIDE, default=None, return_dtype=pl.Float64)
    compared = wide.join(known.history, on=["player_id", "club_group", "quantity"], how="inner").filter(
        pl.col("now").is_not_null(), pl.col("n_sessions") >= 5
    )
    seen = compared.filter(pl.col("middle").abs() >= pl.max_horizontal(2 * pl.col("spread"), least))
    mirrored = (pl.col("now") + pl.col("middle")).abs() < (pl.col("now") - pl.col("middle")).abs() / 3
    far = pl.col("middle").abs() >= _ALONE * pl.max_horizontal(2 * pl.col("spread"), least)
    by_session = seen.group_by("file", "player_id", "session_id").agg(
        pl.col("row").min(),
        mirrored.sum().alias("n_mirrored"),
        pl.len().alias("n_seen"),
        (mirrored & far & (pl.col("quantity") != "curve_deg")).all().alias("are_all_far"),
    )
    enough = (pl.col("n_mirrored") >= 2) | pl.col("are_all_far")
    own = by_session.filter(enough & (pl.col("n_mirrored") > 0.7 * pl.col("n_seen"))).select("session_id", "row")
    together = _turned_together(compared, least).join(own, on="session_id", how="anti")
    warned = pl.concat([own, together]).sort("row")
    return _problem_rows(warned, "direction_deg", pl.col("session_id"), "sides_look_swapped")


def _turned_together(compared: pl.DataFrame, least: pl.Expr) -> pl.DataFrame:
    """Sessions of files whose players, all together, look like the mirror of themselves: ``session_id``, ``row``.

    Of a session that differs from its player's middle m by a normal error of variance v the mirror is likelier by ``-2 x m / v``,
    in logarithms. Quantities of one swing hang together, so that their mean counts for a player.
    """
    variance = pl.max_horizontal(1.4826 * pl.col("spread"), least / 2.0) ** 2
    told = (-2.0 * pl.col("now") * pl.col("middle") / variance).clip(-_MOST_EACH, _MOST_EACH)
    weighed = compared.with_columns((told / pl.len().over("file", "player_id")).alias("told"))
    files = weighed.group_by("file").agg(
        pl.col("player_id").n_unique().alias("n"),
        pl.col("told").sum().alias("all"),
        pl.col("told").filter(pl.col("middle") < 0).sum().alias("left"),
        pl.col("told").filter(pl.col("middle") > 0).sum().alias("right"),
    )
    turned = files.filter(
        pl.col("n") >= _TURNED_PLAYERS, pl.col("all") >= _TURNED_AT, pl.min_horizontal("left", "right") >= _TURNED_EACH
    )
    rows = compared.join(turned, on="file", how="semi").group_by("session_id").agg(pl.col("row").min())
    return rows.select("session_id", "row")


def _nothing_speaks_for(shots: pl.DataFrame, known: Known) -> pl.DataFrame:
    """Speeds that may be in another unit, and that nothing can tell from it: once for each file."""
    if known.players is None:
        return pl.DataFrame(schema=WARNINGS)
    middle, mph = pl.col("club_speed_mps"), UNITS["mph"].factor
    shown = pl.format("{} m/s, {} mph", middle.round(1), (middle / mph).round(0).cast(pl.Int64))
    return _problem_rows(speeds_nothing_speaks_for(shots, known), "club_speed_mps", shown, "first_speeds")


def warning_rows(kind: FileKind, values: pl.DataFrame, file: pl.Series, loaded: pl.Series, known: Known) -> pl.DataFrame:
    """Warnings about rows that are loaded: ``row``, ``column``, ``value``, ``rule``."""
    rows = values.with_columns(file.alias("file")).with_row_index("row").filter(loaded)
    found = [_future(kind, rows, known), _named_nowhere(kind, rows, known)]
    if kind.name == "players":
        found += [_newborn(rows, known), _alike_names(rows, known), _alike_ids(rows, known)]
    if kind.name == "sessions":
        found += [_reduced_pressure(rows, known), _after_leaving(rows, known)]
    if kind.name == "shots":
        shots = _in_order(rows.with_columns(club_group(pl.col("club")).alias("club_group")))
        found += [
            _high_ratio(shots),
            _long_carry(shots),
            _low_spin(shots),
            _repeated(shots),
            _clock(shots, known),
            _swapped_sides(shots, known),
            _nothing_speaks_for(shots, known),
        ]
    return pl.concat(found)


def swapped_units(kind: FileKind, values: pl.DataFrame, file: pl.Series) -> dict[int, str]:
    """Files whose numbers look as if in other units, with what speaks for it.

    Full shots fly about 2.3 to 3.4 m for each m/s of ball speed (common practice). In a whole file less than 1.72 says that
    speeds are in mph; less than 1.5 degrees of launch with carries beyond 100 m, radians; a spin below 250, revolutions a second.
    """
    if kind.name != "shots" or values.is_empty():
        return {}
    full = (
        values.select("ball_speed_mps", "carry_m", "launch_deg", "spin_rpm")
        .with_columns(file.alias("file"))
        .filter(pl.col("ball_speed_mps") >= _FAST)
    )
    looks = full.group_by("file").agg(
        (pl.col("carry_m") / pl.col("ball_speed_mps")).median().alias("reach"),
        pl.col("launch_deg").abs().quantile(0.9).alias("launch"),
        pl.col("spin_rpm").median().alias("spin"),
        pl.col("carry_m").count().alias("n_carry"),
        pl.col("launch_deg").count().alias("n_launch"),
        pl.col("spin_rpm").count().alias("n_spin"),
    )
    told: dict[int, str] = {}
    for row in looks.sort("file").iter_rows(named=True):
        if row["n_carry"] >= _ENOUGH and row["reach"] < _LEAST_CARRY_PER_SPEED:
            told[row["file"]] = f"carry is only {row['reach']:.2f} m for each m/s of ball speed: are speeds in mph?"
        elif row["n_launch"] >= _ENOUGH and row["launch"] < 1.3:
            told[row["file"]] = f"nearly all launch angles are below {row['launch']:.2f}: are angles in radians?"
        elif row["n_spin"] >= _ENOUGH and row["spin"] < _LEAST_SPIN_RPM:
            told[row["file"]] = f"the middle spin is {row['spin']:.0f}: is spin in revolutions a second?"
    return told
