"""Squads of eight makings with planted truth.

Written apart from the detectors and from the other generators of this folder, from what must be shown. All of it is seeded; the
same call gives the same frames. Which seeds are reported, and were never used for choosing a limit, stands in MEASURED.md here.

Each returns a dict of polars frames: players, sessions (means as read), shots (on demand), checkins, events, levels (what is true
of each player and day).
"""

from __future__ import annotations

import datetime as dt
import zlib
from typing import Any

import numpy as np
import polars as pl

MAKINGS = ("normal", "t4", "ar_mixed", "season", "juniors", "ageing", "irregular", "answers_missing")
SEED_OF = {name: 911 + i for i, name in enumerate(MAKINGS)}
BEGIN = dt.date(2025, 1, 6)
DAYS = {"season": 730, "ageing": 730}
HAS_PLATEAU = ("normal", "t4", "ar_mixed", "irregular", "answers_missing")
SHARES = {
    "drift": 0.12,
    "plateau": 0.10,
    "grower": 0.04,
    "scatter_doubled": 0.10,
    "wild": 0.08,
    "stiffness": 0.10,
    "decoy_odd_session": 0.03,
    "decoy_absence": 0.03,
    "decoy_hot_month": 0.03,
    "decoy_busy_week": 0.03,
    "decoy_sore_once": 0.03,
}
REGIONS = ("lower_back", "lead_wrist", "trail_shoulder")
SHOT_CV, SESSION_SD, DIRECTION_SD, WILD_SHARE = 0.013, 0.007, 2.6, 0.03


def _noise(rng: np.random.Generator, tails: bool, size: int) -> np.ndarray:
    """Standard deviation 1; with tails: Student t of 4 degrees of freedom, scaled."""
    return rng.standard_t(4, size) / np.sqrt(2.0) if tails else rng.normal(size=size)


def session_days(
    rng: np.random.Generator, days: int, irregular: bool, away: tuple[int, int] | None, busy: tuple[int, int] | None
) -> np.ndarray:
    if irregular:
        gaps = np.clip(np.round(rng.gamma(4.0, 7.0 / 4.0, days // 3)), 1, None).astype(int)
        on: np.ndarray = rng.integers(0, 7) + np.cumsum(gaps)
        hole = rng.integers(60, days - 60)
        hold = rng.integers(21, 43)
        on = on[(on < hole) | (on >= hole + hold)]
    else:
        week = np.sort(rng.choice(7, 3, replace=False))
        on = (np.arange(days // 7)[:, None] * 7 + week[None, :]).ravel()
        on = on[rng.random(on.size) < 0.85]
    on = on[on < days].astype(int)
    if away:
        on = on[(on < away[0]) | (on >= away[1])]
    if busy:
        on = np.union1d(on, np.arange(*busy))
    return on


def _growth(rng: np.random.Generator, days: int) -> np.ndarray:
    """A junior's log level: 2.5 to 5 % a year and one spurt of 2 to 5 % over about 120 days."""
    t = np.arange(days)
    middle = rng.uniform(60, days - 30)
    steady = rng.uniform(0.025, 0.05) * t / 365
    return np.asarray(steady + rng.uniform(0.02, 0.05) / (1 + np.exp(-(t - middle) / rng.uniform(22, 38))))


def _plan_events(rng: np.random.Generator, making: str, n: int, planted: bool) -> list[str]:
    kinds: list[str] = []
    if planted:
        for kind, share in SHARES.items():
            if kind in ("plateau", "grower") and making not in HAS_PLATEAU:
                continue
            kinds += [kind] * max(1, round(share * n))
    kinds = (kinds + ["none"] * n)[:n]
    return [kinds[i] for i in rng.permutation(n)]


def make(
    making: str, seed: int | None = None, n_players: int = 200, planted: bool = True, shots: bool = False, days: int | None = None
) -> dict[str, pl.DataFrame]:
    if making not in MAKINGS:
        raise KeyError(f"{making}: one of {', '.join(MAKINGS)}")
    seed = SEED_OF[making] if seed is None else seed
    days = days or DAYS.get(making, 420)
    rng = np.random.default_rng(np.random.SeedSequence([seed, MAKINGS.index(making)]))
    events = _plan_events(rng, making, n_players, planted)
    tails = making == "t4"
    out: dict[str, list[Any]] = {k: [] for k in ("players", "sessions", "checkins", "events", "levels", "shots")}
    for i in range(n_players):
        _player(rng, making, f"{making[:2]}{i:03d}", events[i], days, tails, shots, out)
    return frames(out)


def _player(  # noqa: C901, PLR0912 - one branch a kind of event, in the order of the table of shares
    rng: np.random.Generator, making: str, pid: str, event: str, days: int, tails: bool, shots: bool, out: dict[str, list[Any]]
) -> None:
    t = np.arange(days)
    start = int(rng.integers(int(days * 0.40), int(days * 0.62)))
    away = (start, start + int(rng.integers(21, 36))) if event == "decoy_absence" else None
    busy = (start, start + 7) if event == "decoy_busy_week" else None
    junior = making == "juniors" and rng.random() < 0.7
    ageing = making == "ageing" and rng.random() < 0.5
    slow_form = making == "ar_mixed" and rng.random() < 0.15
    age = int(rng.integers(11, 17)) if junior else int(rng.integers(52, 68)) if ageing else int(rng.integers(18, 40))
    base = np.log(rng.uniform(30, 40) if junior else rng.uniform(36, 43) if ageing else rng.uniform(39, 53))
    level = np.full(days, base)
    growth = np.zeros(days)
    if junior:
        growth = _growth(rng, days)
    if ageing:
        growth = -rng.uniform(0.004, 0.012) * t / 365
    season = np.zeros(days)
    if making == "season":
        day_of_year = np.array([(BEGIN + dt.timedelta(days=int(d))).timetuple().tm_yday for d in t])
        season = abs(rng.normal(0.012, 0.004)) * np.cos(2 * np.pi * (day_of_year - rng.normal(200, 15)) / 365.25)
    planted = np.zeros(days)
    scatter = np.full(days, DIRECTION_SD * np.exp(rng.normal(0, 0.15)))
    wild = np.full(days, WILD_SHARE)
    stiff = np.zeros(days)
    normal = {g: float(np.clip(rng.gamma(2.0, 0.7), 0, 4)) for g in REGIONS}
    amount, ends, region = 0.0, start, ""
    if event == "drift":
        ends = start + int(rng.integers(45, 76))
        amount = float((-1 if rng.random() < 0.7 else 1) * rng.uniform(0.03, 0.05))
        planted = amount * np.clip((t - start) / (ends - start), 0, 1)
    elif event == "plateau":
        amount = float(rng.uniform(0.05, 0.08))  # growth a year before it stops
        ends = days
        planted = amount * np.minimum(t, start) / 365
    elif event == "grower":
        amount, start, ends = float(rng.uniform(0.05, 0.08)), 0, days  # grows on: must not be told as a plateau
        planted = amount * t / 365
    elif event == "scatter_doubled":
        amount, ends = 2.0, days
        scatter = np.where(t >= start, 2 * scatter, scatter)
    elif event == "wild":
        amount, ends = 0.15, days
        wild = np.where(t >= start, 0.15, wild)
    elif event == "stiffness":
        amount, ends, region = 3.0, start + int(rng.integers(30, 61)), str(rng.choice(REGIONS))
        stiff = amount * np.clip((t - start + 1) / 7, 0, 1) * (t < ends)
    elif event == "decoy_hot_month":
        amount, ends = 0.006, start + 30
        planted = np.where((t >= start) & (t < ends), amount, 0.0)  # truly 0.6 % faster in the heat, under what is worth while
    elif event == "decoy_sore_once":
        amount, ends, region = 4.0, start + 1, str(rng.choice(REGIONS))
        stiff = np.where(t == start, amount, 0.0)
    elif event in ("decoy_absence", "decoy_busy_week"):
        ends = (away or busy or (start, start))[1]
    level = base + growth + season + planted
    on = session_days(rng, days, making == "irregular", away, busy)
    n = np.clip(np.round(rng.lognormal(np.log(22), 0.35 if making != "irregular" else 0.6, on.size)), 6, 60).astype(int)
    sd = SESSION_SD * np.exp(rng.normal(0, 0.2))
    form = sd * _noise(rng, tails, on.size)
    if slow_form:
        step = rng.normal(size=on.size)
        ar = np.zeros(on.size)
        for k in range(on.size):
            ar[k] = (0.4 * ar[k - 1] if k else 0.0) + np.sqrt(1 - 0.16) * step[k]
        sd = 0.010
        form = sd * ar
    if event == "decoy_odd_session":
        k = int(np.searchsorted(on, start))
        if k < on.size:
            amount, start, ends = -0.04, int(on[k]), int(on[k]) + 1
            form[k] += amount
    cv = SHOT_CV * np.exp(rng.normal(0, 0.2))
    sessions(
        rng,
        pid,
        on,
        n,
        level[on] + form,
        scatter[on],
        wild[on],
        cv,
        tails,
        np.zeros(on.size),
        np.full(on.size, "tower-1"),
        shots,
        out,
    )
    out["players"].append(
        {
            "player_id": pid,
            "age": age,
            "junior": junior,
            "ageing": ageing,
            "slow_form": slow_form,
            "session_sd": float(sd),
            "shot_cv": float(cv),
            "event": event,
            "birth_year": BEGIN.year - age,
        }
    )
    if event != "none":
        out["events"].append(
            {
                "player_id": pid,
                "kind": event,
                "began_on": date(start),
                "ended_on": date(min(ends, days)),
                "amount": float(amount),
                "region": region,
                "decoy": event.startswith("decoy"),
            }
        )
    each = range(days)
    out["levels"].append(
        pl.DataFrame(
            {
                "player_id": [pid] * days,
                "on_date": [date(d) for d in each],
                "true_speed_mps": np.exp(level),
                "expected_part": growth + season,
                "planted_part": planted,
                "true_scatter_deg": scatter,
                "true_wild": wild,
                "true_stiff_rise": stiff,
            }
        )
    )
    _checkins(rng, making, pid, days, on, normal, stiff, region, out)


def date(day: int) -> dt.date:
    return BEGIN + dt.timedelta(days=day)


def sessions(
    rng: np.random.Generator,
    pid: str,
    on: np.ndarray,
    n: np.ndarray,
    log_speed: np.ndarray,
    scatter: np.ndarray,
    wild: np.ndarray,
    cv: float,
    tails: bool,
    offset: np.ndarray,
    device: np.ndarray,
    shots: bool,
    out: dict[str, list[Any]],
    ratio_shift: np.ndarray | None = None,
) -> None:
    """Session values from their shots; every shot is drawn, kept only when wanted."""
    total = int(n.sum())
    which = np.repeat(np.arange(on.size), n)
    speed = np.exp(log_speed[which]) * (1 + cv * _noise(rng, tails, total))
    is_wild = rng.random(total) < wild[which]
    direction = scatter[which] * _noise(rng, tails, total) + np.where(
        is_wild, np.sign(rng.normal(size=total)) * rng.uniform(6, 14, total), 0.0
    )
    direction = np.clip(direction, -25, 25)
    curve = rng.normal(0, 0.5, total) * scatter[which] + np.where(is_wild, 0.3 * direction, 0)
    smash = np.clip(1.455 + rng.normal(0, 0.018, total) - np.where(is_wild, 0.04, 0), 1.2, 1.51)
    ball = speed * smash
    carry = np.clip(
        (3.02 + 0.0056 * (ball - 50)) * ball * (1 + rng.normal(0, 0.015, total)) * np.where(is_wild, 0.94, 1), 20, None
    )
    seen = speed * np.exp(offset[which])
    seen_ball = ball * np.exp(0.0 if ratio_shift is None else ratio_shift[which])
    offline = carry * np.tan(np.radians(np.clip(direction + curve, -35, 35)))
    first = np.concatenate([[0], np.cumsum(n)[:-1]])
    sd_dir = np.array([direction[a : a + b].std(ddof=1) for a, b in zip(first, n, strict=True)])
    mad = np.array([np.median(np.abs(offline[a : a + b] - np.median(offline[a : a + b]))) for a, b in zip(first, n, strict=True)])
    mean = np.add.reduceat(seen, first) / n
    mean_ball = np.add.reduceat(seen_ball, first) / n
    days = [date(int(d)) for d in on]
    ids = [f"{pid}-{int(d):04d}" for d in on]
    out["sessions"].append(
        pl.DataFrame(
            {
                "session_id": ids,
                "player_id": [pid] * on.size,
                "on_date": days,
                "device_id": device.tolist(),
                "kind": ["range"] * on.size,
                "n": n,
                "club_speed_mps": mean.round(4),
                "ball_speed_mps": mean_ball.round(4),
                "speed_ratio": (mean_ball / mean).round(4),
                "direction_sd_deg": sd_dir.round(4),
                "offline_mad_m": mad.round(3),
                "wild": np.add.reduceat(is_wild.astype(int), first),
                "true_session_mps": np.exp(log_speed),
                "true_offset": offset,
            }
        )
    )
    if shots:
        no = np.arange(total) - first[which] + 1
        begin = (
            np.array([np.datetime64(d, "us") for d in days])[which]
            + np.timedelta64(15 * 3600, "s")
            + (no * 45).astype("timedelta64[s]").astype("timedelta64[us]")
        )
        extra = np.random.default_rng(zlib.crc32(pid.encode()))  # its own stream: with and without shots the squad is the same
        launch = 12.5 + extra.normal(0, 1.3, total)
        out["shots"].append(
            pl.DataFrame(
                {
                    "session_id": np.array(ids)[which],
                    "player_id": [pid] * total,
                    "shot_no": no,
                    "struck_at": begin,
                    "club": ["driver"] * total,
                    "club_speed_mps": seen.round(2),
                    "ball_speed_mps": seen_ball.round(2),
                    "launch_deg": launch.round(1),
                    "direction_deg": direction.round(2),
                    "spin_rpm": (2750 * np.exp(extra.normal(0, 0.09, total))).round(0),
                    "carry_m": carry.round(1),
                    "offline_m": offline.round(1),
                    "_wild": is_wild,
                }
            )
        )


def _checkins(
    rng: np.random.Generator,
    making: str,
    pid: str,
    days: int,
    on: np.ndarray,
    normal: dict[str, float],
    stiff: np.ndarray,
    region: str,
    out: dict[str, list[Any]],
) -> None:
    t = np.arange(days)
    true = {}
    for g in REGIONS:
        ar = np.zeros(days)
        step = rng.normal(size=days) * 0.8
        for d in range(days):
            ar[d] = (0.45 * ar[d - 1] if d else 0.0) + np.sqrt(1 - 0.45**2) * step[d]
        true[g] = np.clip(normal[g] + ar + (stiff if g == region else 0), 0, 10)
    fatigue = np.clip(3.5 + rng.normal(0, 1.2, days) + 0.5 * np.isin(t, on), 0, 10)
    answer = rng.random(days) < 0.72
    if making == "answers_missing":
        worst = np.max([true[g] - normal[g] for g in REGIONS], axis=0)
        answer &= rng.random(days) >= 1 / (1 + np.exp(-(-3.0 + 1.25 * worst)))
    keep = np.flatnonzero(answer)
    out["checkins"].append(
        pl.DataFrame(
            {
                "player_id": [pid] * keep.size,
                "date": [date(int(d)) for d in keep],
                "fatigue": np.round(fatigue[keep]),
                **{f"stiff_{g}": np.round(true[g][keep]) for g in REGIONS},
            }
        )
    )


def frames(out: dict[str, list[Any]]) -> dict[str, pl.DataFrame]:
    got: dict[str, pl.DataFrame] = {}
    for name, rows in out.items():
        if not rows:
            continue
        got[name] = pl.concat(rows) if isinstance(rows[0], pl.DataFrame) else pl.DataFrame(rows, infer_schema_length=None)
    return got
