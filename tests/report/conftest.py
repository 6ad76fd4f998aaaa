"""A small invented warehouse laid row by row, so that pages are tested without the measures."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl
import pytest

from pipelines.stages.measure.stories import measure_stories
from reports.site import build_site
from schemas.academy import Academy, Units
from schemas.core import core_tables
from warehouse.connection import insert_frame, open_warehouse

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import duckdb

    from schemas.results import SiteOutcome

LAST_ON = dt.date(2026, 3, 15)
KEY = b"a secret of at least sixteen bytes"
KINDS = (
    *(("speed_fall", "club_speed_mps"), ("speed_rise", "club_speed_mps"), ("speed_stall", "club_speed_mps")),
    *(("transfer_loss", "ball_speed_mps"), ("scatter_rise", "scatter_side_m"), ("scatter_fall", "scatter_long_m")),
    *(("aim_shift", "aim_deg"), ("speed_cost", "strokes"), ("load_jump", "day_swings"), ("load_flat", "days_without_easy")),
    *(("body_stiff", ""), ("body_fatigue", "fatigue"), ("answers_fewer", ""), ("problem_report", ""), ("overuse_pattern", "")),
    *(("plan_gap", "swings_full"), ("quiet", ""), ("device_shift", "club_speed_mps")),
)
BODY = frozenset({"body_stiff", "body_fatigue", "answers_fewer", "problem_report", "overuse_pattern"})
_EMPTY: dict[str, Any] = {
    "text": "",
    "texts": [],
    "integer": 0,
    "number": 0.0,
    "truth": False,
    "day": LAST_ON,
    "instant": dt.datetime(2026, 3, 15, 6, 0),  # noqa: DTZ001 - instants are UTC without a zone
}


def row(table: str, **values: Any) -> dict[str, Any]:
    """A row of a core table: required columns have an empty value unless given, others are null."""
    columns = core_tables()[table].columns
    assert set(values) <= {column.name for column in columns}, set(values) - {column.name for column in columns}
    return {column.name: values.get(column.name, _EMPTY[column.kind] if column.required else None) for column in columns}


def insert(con: duckdb.DuckDBPyConnection, table: str, rows: list[dict[str, Any]]) -> None:
    insert_frame(con, table, pl.DataFrame(rows, schema=core_tables()[table].polars_schema(), orient="row"))


def _sessions(player_id: str, n: int) -> list[dict[str, Any]]:
    days = [LAST_ON - dt.timedelta(days=5 * back) for back in range(n - 1, -1, -1)]
    return [
        row(
            "session",
            session_id=f"{player_id}-{number}",
            player_id=player_id,
            started_at=dt.datetime.combine(day, dt.time(9)),
            kind="rest" if number % 7 == 6 else "range",
            swings_full=None if number % 7 == 6 else 60 + number % 5 * 10,
            duration_min=None if number % 7 == 6 else 50.0,
            effort=None if number % 7 == 6 else 5.0,
            device_id=None if number % 7 == 6 else "unit-1",
        )
        for number, day in enumerate(days)
    ]


def _shots(sessions: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [
        row(
            "shot",
            session_id=session["session_id"],
            player_id=session["player_id"],
            shot_no=shot + 1,
            struck_at=session["started_at"] + dt.timedelta(minutes=shot),
            club="driver",
            club_speed_mps=45 + math.sin(shot) / 2,
            ball_speed_mps=66.0,
            carry_m=210 + 9 * math.sin(3 * shot),
            offline_m=14 * math.sin(5 * shot + 1),
        )
        for session in sessions
        if session["kind"] != "rest"
        for shot in range(6)
    ]


def _summaries(sessions: list[dict[str, Any]], group: str, speed: float) -> list[dict[str, Any]]:
    return [
        row(
            "session_club",
            session_id=session["session_id"],
            player_id=session["player_id"],
            club_group=group,
            on_date=session["started_at"].date(),
            session_kind="range",
            device_id="unit-1",
            club="driver" if group == "driver" else "7-iron",
            n_shots=6,
            club_speed_mps_n=6,
            club_speed_mps_centre=speed + 0.02 * number,
            ball_speed_mps_n=6,
            ball_speed_mps_centre=1.46 * (speed + 0.02 * number),
            carry_m_n=6,
            carry_m_centre=200.0 + number / 10,
            carry_m_spread=8.0,
            offline_m_n=6,
            offline_m_centre=2.0,
            offline_m_spread=11.0,
        )
        for number, session in enumerate(sessions)
        if session["kind"] != "rest"
    ]


_METRICS = {
    "club_speed_mps": 45.0,
    "ball_speed_mps": 66.0,
    "speed_ratio": 1.46,
    "comparable_carry_m": 205.0,
    "scatter_side_m": 14.0,
    "scatter_long_m": 10.0,
    "aim_deg": 0.5,
}


def _trends(sessions: list[dict[str, Any]], group: str) -> list[dict[str, Any]]:
    found = []
    for metric, level in _METRICS.items():
        for number, session in enumerate(sessions):
            known = number > 8
            found.append(
                row(
                    "trend_point",
                    player_id=session["player_id"],
                    session_id=session["session_id"],
                    club_group=group,
                    club="driver" if group == "driver" else "7-iron",
                    metric=metric,
                    on_date=session["started_at"].date(),
                    device_id="unit-1",
                    n=6,
                    value=level * (1 + 0.01 * math.sin(number)),
                    level=level * (1 + number / 2000),
                    level_low=level * (1 + number / 2000) - abs(level) * 0.01,
                    level_high=level * (1 + number / 2000) + abs(level) * 0.01,
                    change_28=0.4 if known else None,
                    change_28_low=-0.2 if known else None,
                    change_28_high=1.0 if known else None,
                    p_up=0.9 if known else None,
                    p_better=0.3 if known else None,
                    p_trivial=0.69 if known else None,
                    p_worse=0.01 if known else None,
                    worthwhile=0.8,
                    odd=0.9 if number % 11 == 0 else 0.05,
                    usual=level if known else None,
                    usual_sd=abs(level) * 0.01 if known else None,
                    usual_n=number,
                    state="steady" if known else "learning",
                )
            )
    return found


def flags() -> list[dict[str, Any]]:
    """One open flag of every kind about p1 (about a device for device_shift), and closed ones."""
    return [
        row(
            "flag",
            flag_id=f"F{number:07d}{'c' if closed else ''}",
            player_id="" if kind == "device_shift" else "p1",
            kind=kind,
            level="alert" if number % 3 == 0 else "notice",
            audience="physio" if kind in BODY else "both" if kind in {"speed_fall", "load_jump", "quiet"} else "coach",
            raised_on=LAST_ON - dt.timedelta(days=number + (90 if closed else 0)),
            closed_on=LAST_ON - dt.timedelta(days=60) if closed else None,
            closed_because="back" if closed else "",
            metric=metric,
            region="lower_back" if kind in BODY else "",
            club_group="driver" if kind[:5] in {"speed", "trans", "scatt", "aim_s"} else "",
            device_id="unit-1" if kind == "device_shift" else "",
            value=4.0,
            baseline=3.0,
            low=3.5,
            high=4.5,
            n=12,
            strength=float(number),
            reasons=["load_up", "sleep_short"] if kind == "overuse_pattern" else [],
        )
        for closed in (False, True)
        for number, (kind, metric) in enumerate(KINDS)
    ]


def fill(con: duckdb.DuckDBPyConnection) -> None:
    """Three players: one with a year of everything, one newcomer, one who left without a shot."""
    insert(con, "academy", [row("academy", name="Fen & Field", time_zone="Europe/Berlin")])
    players = [
        row("player", player_id="p1", alias="Lark", handed="right", birth_year=2009, health_consent=True),
        row("player", player_id="p2", alias="Wren", handed="left", birth_year=1990),
        row("player", player_id="p3", alias="Stork", left_on=dt.date(2026, 1, 31)),
    ]
    insert(con, "player", players)
    year, few = _sessions("p1", 72), _sessions("p2", 3)
    insert(con, "session", [*year, *few])
    insert(con, "shot", [*_shots(year), *_shots(few)])
    insert(
        con,
        "session_club",
        [*_summaries(year, "driver", 45.0), *_summaries(year, "iron", 34.0), *_summaries(few, "driver", 40.0)],
    )
    insert(con, "trend_point", [*_trends(year, "driver"), *_trends(few, "driver")])
    insert(con, "flag", flags())
    insert(
        con, "decision", [row("decision", flag_id="F0000000", decided_on=LAST_ON, role="coach", decision="watch", until=LAST_ON)]
    )
    insert(
        con,
        "device_offset",
        [
            row(
                "device_offset",
                device_id="unit-1",
                metric="club_speed_mps",
                offset=0.8,
                error=0.2,
                n_players=5,
                n_bridges=4,
                basis="two devices",
            )
        ],
    )
    insert(
        con, "checkin", [row("checkin", player_id="p1", date=LAST_ON - dt.timedelta(days=day), fatigue=3.0) for day in range(9)]
    )
    weeks = [LAST_ON - dt.timedelta(days=LAST_ON.weekday(), weeks=week) for week in range(30)]
    insert(
        con,
        "plan",
        [
            row(
                "plan",
                player_id="p1",
                week_starting=day,
                phase="base" if number > 12 else "speed block",
                swings_full=300,
                swings_speed=60,
            )
            for number, day in enumerate(weeks)
        ],
    )
    insert(
        con,
        "file",
        [
            row(
                "file",
                file_id="a" * 64,
                name="shots_2026-03-14.csv",
                kind="shots",
                n_rows=100,
                n_loaded=98,
                n_quarantined=2,
                status="loaded",
            ),
            row("file", file_id="b" * 64, name="shots_bad.csv", kind="shots", n_rows=10, n_quarantined=10, status="held"),
        ],
    )
    insert(
        con,
        "problem",
        [
            row("problem", file_id="a" * 64, line=7, column="club_speed_mps", value="812", rule="out_of_range",
                allowed="8 to 70 m/s",
                hint="Check the reading and its unit.", severity="error"),
            row("problem", file_id="b" * 64, column="club", value="", rule="missing_column", allowed="a column club",
                hint="Add the column.", severity="held"),
        ],
    )  # fmt: skip
    measure_stories(con, academy(), LAST_ON)


@dataclass(frozen=True)
class Built:
    """A site with its warehouse file."""

    folder: Path
    outcome: SiteOutcome

    def text(self, path: str) -> str:
        return (self.folder / path).read_text(encoding="utf-8")


def academy(language: str = "en") -> Academy:
    units = Units("mph", "yd") if language == "en" else Units("km/h", "m")
    return Academy("Fen & Field", "Europe/Berlin", language=language, units=units)  # type: ignore[arg-type]


def build(con: duckdb.DuckDBPyConnection, folder: Path, language: str = "en") -> Built:
    return Built(folder, build_site(con, academy(language), folder, as_of=LAST_ON, sources=(), site_key=KEY))


@pytest.fixture
def con(tmp_path: Path) -> Iterator[duckdb.DuckDBPyConnection]:
    with open_warehouse(tmp_path / "academy.duckdb") as connection:
        fill(connection)
        yield connection


@pytest.fixture(scope="session")
def built(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """The site of the small warehouse in English; do not change it."""
    folder = tmp_path_factory.mktemp("site")
    with open_warehouse(folder / "academy.duckdb") as connection:
        fill(connection)
        return build(connection, folder / "site")
