"""Exports in layouts of their own: a German hall with decimal commas, and a guest range in miles an hour and yards.

Both layouts are invented here; the words in their headers are those of the trade. They are read through ``mappings/``.
"""

from __future__ import annotations

from datetime import date

import polars as pl

from pipelines.demo.files import DemoFile

HALL, SEASIDE = "hall", "seaside"
_FOLDER_OF_DEVICE = {"unit-3": HALL, "unit-4": SEASIDE}

_HALL_CLUBS = {"driver": "Holz 1", "7-iron": "Eisen 7"}
_SEASIDE_CLUBS = {"driver": "1W", "7-iron": "7i"}
_HALL_HEADER = (
    "Nr.;Zeit;Schläger;Schlägerkopf [km/h];Ball [km/h];Startwinkel [°];Startrichtung [°];Spin [1/min];Spinachse [°];"
    "Flugweite [m];Abweichung [m];Höhe [m];Landewinkel [°];Eintreffwinkel [°];Schwungbahn [°];Schlagfläche [°];Loft [°];"
    "Treffpunkt seitlich [mm];Treffpunkt Höhe [mm];Aufwärmen"
)
_SEASIDE_HEADER = "Shot,Time,Club,Club Speed,Ball Speed,Launch,Start,Spin,Axis,Carry,Offline,Attack"
_SEASIDE_UNITS = ",,,mph,mph,deg,deg,rpm,deg,yd,yd,deg"


def foreign_files(shots: pl.DataFrame, until_on: date) -> tuple[list[DemoFile], pl.DataFrame]:
    """The files of the two foreign devices, one a session, and the shots that are left for native files."""
    foreign = pl.col("device_id").is_in(list(_FOLDER_OF_DEVICE))
    files = []
    for (device, session_id), rows in (
        shots.filter(foreign & (pl.col("on") <= until_on))
        .partition_by("device_id", "session_id", as_dict=True, maintain_order=True)
        .items()
    ):
        write = _hall_bytes if device == "unit-3" else _seaside_bytes
        name = f"{_FOLDER_OF_DEVICE[device]}/{session_id}.csv"
        files.append(DemoFile(name, write(rows), rows["on"][0], rows.height))
    return files, shots.filter(~foreign)


def _fixed(name: str, factor: float, decimals: int) -> pl.Expr:
    return (
        (pl.col(name) * factor)
        .round(decimals)
        .map_elements(lambda value: f"{value:.{decimals}f}", return_dtype=pl.String, skip_nulls=True)
    )


def _sided(name: str, factor: float, left: str, right: str) -> pl.Expr:
    """A side in words: ``12.3 L``."""
    side = pl.when(pl.col(name) < 0).then(pl.lit(f" {left}")).otherwise(pl.lit(f" {right}"))
    return pl.when(pl.col(name).is_not_null()).then(pl.concat_str(_fixed(name, factor, 1).str.strip_chars_start("-"), side))


def _clock(form: str) -> pl.Expr:
    return pl.col("struck_at").str.slice(0, 19).str.to_datetime("%Y-%m-%dT%H:%M:%S").dt.strftime(form)


def _hall_bytes(rows: pl.DataFrame) -> bytes:
    """Semicolons, decimal commas, km/h, sides as L and R, a heading above, a line of means below; Windows-1252."""
    columns = rows.select(
        pl.col("shot_no").cast(pl.String),
        _clock("%d.%m.%Y %H:%M:%S").alias("time"),
        pl.col("club").replace(_HALL_CLUBS),
        _fixed("club_speed_mps", 3.6, 1),
        _fixed("ball_speed_mps", 3.6, 1),
        _fixed("launch_deg", 1.0, 1),
        _sided("direction_deg", 1.0, "L", "R"),
        _fixed("spin_rpm", 1.0, 0),
        _sided("spin_axis_deg", 1.0, "L", "R"),
        _fixed("carry_m", 1.0, 1),
        _sided("offline_m", 1.0, "L", "R"),
        _fixed("apex_m", 1.0, 1),
        _fixed("descent_deg", 1.0, 1),
        _fixed("attack_deg", 1.0, 1),
        _sided("path_deg", 1.0, "L", "R"),
        _sided("face_deg", 1.0, "L", "R"),
        _fixed("loft_deg", 1.0, 1),
        _fixed("strike_side_mm", 1.0, 0),
        _fixed("strike_height_mm", 1.0, 0),
        pl.when(pl.col("counts")).then(pl.lit("nein")).otherwise(pl.lit("ja")).alias("warm_up"),
    )
    body = columns.select(pl.concat_str(pl.all().fill_null("").str.replace(".", ",", literal=True), separator=";"))
    dates = columns["time"].to_list()
    lines = [line.replace(time.replace(".", ",", 1), time) for line, time in zip(body.to_series(), dates, strict=True)]
    speed, ball = (float(rows[name].mean() or 0.0) * 3.6 for name in ("club_speed_mps", "ball_speed_mps"))  # type: ignore[arg-type]
    means = f"Mittelwert;;;{speed:.1f};{ball:.1f}".replace(".", ",") + ";" * 15
    return "\r\n".join([f"Halle Eastermere, Bucht 4;{rows['player_id'][0]}", "", _HALL_HEADER, *lines, means, ""]).encode(
        "cp1252"
    )


def _seaside_bytes(rows: pl.DataFrame) -> bytes:
    """Commas, miles an hour and yards, a row of units below the header, sides as words, an average at the end."""
    columns = rows.select(
        pl.col("shot_no").cast(pl.String),
        _clock("%m/%d/%Y %I:%M:%S %p").alias("time"),
        pl.col("club").replace(_SEASIDE_CLUBS),
        _fixed("club_speed_mps", 1.0 / 0.44704, 1),
        _fixed("ball_speed_mps", 1.0 / 0.44704, 1),
        _fixed("launch_deg", 1.0, 1),
        _sided("direction_deg", 1.0, "left", "right"),
        _fixed("spin_rpm", 1.0, 0),
        _sided("spin_axis_deg", 1.0, "left", "right"),
        _fixed("carry_m", 1.0 / 0.9144, 1),
        _sided("offline_m", 1.0 / 0.9144, "left", "right"),
        _fixed("attack_deg", 1.0, 1),
    )
    body = columns.select(pl.concat_str(pl.all().fill_null(""), separator=","))
    speed = float(rows["club_speed_mps"].mean() or 0.0) / 0.44704  # type: ignore[arg-type]
    average = f"Average,,,{speed:.1f}" + "," * 8
    return "\n".join([_SEASIDE_HEADER, _SEASIDE_UNITS, *body.to_series(), average, ""]).encode()
