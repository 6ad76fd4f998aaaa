"""The likelihood ratio of a share of wild shots that rose: against sums that are written out, and among players made by hand."""

from __future__ import annotations

import datetime as dt
from functools import reduce

import numpy as np
import polars as pl
import pytest

from pipelines.measures.flags.chart_rules import HOLDS_AT, STREAM, chart_candidates, players_judged
from pipelines.measures.flags.risen import with_chances_of_rise
from pipelines.measures.scatter.lost import WEIGHTS, loss_log_likelihoods, lost_counts
from pipelines.measures.scatter.rings import FAR_AT, MAD_TO_SD, SHARES, USUAL_REACH, log_likelihoods, ring_counts
from pipelines.measures.scatter.share_rise import QUIET, RARER, chance_of_ratio, log_ratios_of_rise

START = dt.date(2026, 1, 5)
SHOTS = 28


def drawn(rng: np.random.Generator, share: np.ndarray, width: np.ndarray | float = 1.0, shots: int = SHOTS) -> np.ndarray:
    """Distances to a side [m], (sessions, shots): a share from a part four times as wide; each day 12 % wider or narrower."""
    days = 12.0 * width * np.exp(0.12 * rng.standard_normal(share.size))
    wide = rng.random((share.size, shots)) < share[:, None]
    return np.asarray(days[:, None] * np.where(wide, 4.0, 1.0) * rng.standard_normal((share.size, shots)))


def drawn_with_losses(rng: np.random.Generator, share: np.ndarray, anyway: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Distances to a side [m], and whether ball speed was lost: in .75 of the wide part, and in a share of the others."""
    wide = rng.random((share.size, SHOTS)) < share[:, None]
    days = 12.0 * np.exp(0.12 * rng.standard_normal(share.size))
    offline = days[:, None] * np.where(wide, 3.0, 1.0) * rng.standard_normal(wide.shape)
    return offline, rng.random(wide.shape) < np.where(wide, 0.75, anyway[:, None])


def told(offline: np.ndarray, lost: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Places, likelihoods and losses of sessions; ``lost``: which shots lost ball speed, where that was measured."""
    off = np.abs(offline - np.median(offline, axis=1, keepdims=True))
    mad = np.median(off, axis=1)
    session, shot = np.nonzero(off > FAR_AT * MAD_TO_SD * mad[:, None])
    counts = ring_counts(np.full(mad.size, float(offline.shape[1])), mad, session, off[session, shot])
    if lost is None:
        losses = loss_log_likelihoods(counts, np.zeros_like(counts), np.zeros(mad.size))
    else:
        session, shot = np.nonzero(lost)
        side = off[session, shot] / (MAD_TO_SD * mad[session])
        losses = loss_log_likelihoods(counts, lost_counts(mad.size, session, side), np.ones(mad.size))
    return *log_likelihoods(counts, mad), losses


def weekly(n: int, every: float = 7.0) -> np.ndarray:
    return np.asarray(every * np.arange(n))


def added(logs: list[float]) -> float:
    return float(reduce(np.logaddexp, logs, -np.inf))


def by_hand(day: np.ndarray, place: np.ndarray, likelihoods: np.ndarray, losses: np.ndarray, last: int) -> tuple[float, float]:
    """Term after term: usual widths, shares before and since, losses, onsets; as the docstring of the measure has it."""
    steps, middle = range(-5, 9), int(np.floor(np.median(place[: last + 1])))
    usual, changed = (np.exp(-0.5 * (np.arange(-5, 9) / sd) ** 2) for sd in (2.5, 5.0))
    usual, changed = np.log(usual / usual.sum()), np.log(changed / changed.sum())

    def chain(begin: int, end: int, width: int, share: int) -> float:
        at = np.clip(middle + steps[width] - place[begin:end], -USUAL_REACH, USUAL_REACH) + USUAL_REACH
        return float(likelihoods[np.arange(begin, end), at, share].sum())

    def lost(onset: int, p: int, q: int) -> float:
        """One pair of losses throughout."""
        pairs = range(WEIGHTS.size)
        logs = [float(losses[:onset, p, c].sum() + losses[onset : last + 1, q, c].sum()) for c in pairs]
        return added([np.log(WEIGHTS[c]) + logs[c] for c in pairs])

    def lost_anew(onset: int, p: int) -> float:
        """One pair before, another or the same since."""
        both = [losses[:onset, p].sum(axis=0), losses[onset : last + 1, p].sum(axis=0)]
        return sum(added([np.log(WEIGHTS[c]) + one[c] for c in range(WEIGHTS.size)]) for one in both)

    quiet = [one for one in range(SHARES.size) if QUIET[one] > 0]
    alike = {p: added([usual[w] + chain(0, last + 1, w, p) for w in range(14)]) + np.log(QUIET[p]) for p in quiet}
    same = added([alike[p] + lost(0, p, p) for p in quiet])
    rise: dict[bool, list[float]] = {True: [], False: []}
    wider, loses = [], []
    for onset in range(4, last + 1):
        recent = bool(day[onset] >= day[last] - 91.0)
        if not recent and onset % 3:
            continue
        terms, other = [], []
        for p in quiet:
            larger = [q for q in range(SHARES.size) if SHARES[q] >= max(2.0 * SHARES[p], SHARES[p] + 0.04)]
            for w in range(14):
                before = usual[w] + np.log(QUIET[p]) + chain(0, onset, w, p)
                terms += [before + chain(onset, last + 1, w, q) + lost(onset, p, q) - np.log(len(larger)) for q in larger]
                other += [before + changed[v] + chain(onset, last + 1, v, p) + lost(onset, p, p) for v in range(14)]
        rise[recent].append(added(terms))
        wider.append(added(other))
        loses.append(added([alike[p] + lost_anew(onset, p) for p in quiet]))
    now, then, other_width, other_loss = (
        added(one) - np.log(max(len(one), 1)) if one else -np.inf for one in (rise[True], rise[False], wider, loses)
    )
    beside = added([same + np.log(0.5), other_width + np.log(0.2), other_loss + np.log(0.1)])
    return now - np.logaddexp(beside, then + np.log(0.2)), then - np.logaddexp(beside, now + np.log(0.2))


def test_it_is_the_ratio_that_is_written_out() -> None:
    rng = np.random.default_rng(4)
    sessions = told(*drawn_with_losses(rng, np.where(np.arange(24) < 9, 0.03, 0.2), np.full(24, 0.01)))
    day = weekly(24)
    recent, older = log_ratios_of_rise(day, *sessions, np.array([3, 6, 14, 23]))
    assert np.isneginf(recent[0])
    for number, last in ((1, 6), (2, 14), (3, 23)):
        expected = by_hand(day, *sessions, last)
        assert (recent[number], older[number]) == pytest.approx(expected, rel=1e-9)


def test_a_rise_is_news_for_three_months_and_has_lasted_then() -> None:
    """3 to 15 % of 28 shots twice a week."""
    rng = np.random.default_rng(7)
    recent, older = [], []
    for _ in range(12):
        sessions = told(drawn(rng, np.where(np.arange(130) < 70, 0.03, 0.15)))
        now, then = log_ratios_of_rise(weekly(130, 3.5), *sessions, np.array([68, 94, 128]))
        recent.append(now)
        older.append(then)
    assert np.median(recent, axis=0)[1] > 4.0
    assert np.max(np.array(recent)[:, [0, 2]]) < 2.5
    assert np.median(older, axis=0)[2] > 4.0
    assert np.max(np.array(older)[:, :2]) < 2.5


@pytest.mark.parametrize("pattern", ["twice as wide", "a third wider", "narrower", "wide tails always", "12 % from day to day"])
def test_a_pattern_that_changes_as_a_whole_or_was_always_so_has_no_more_wild_shots(pattern: str) -> None:
    rng = np.random.default_rng(8)
    wider = {"twice as wide": 2.0, "a third wider": 1.33, "narrower": 0.6}.get(pattern, 1.0)
    share = np.full(80, 0.15 if pattern == "wide tails always" else 0.03)
    found = []
    for _ in range(20):
        sessions = told(drawn(rng, share, np.where(np.arange(80) < 60, 1.0, wider)))
        found.append(log_ratios_of_rise(weekly(80, 3.5), *sessions, np.array([63, 67, 73, 79]))[0])
    assert np.mean(np.array(found) > 2.0) <= 0.03
    assert np.max(found) < 4.0


def test_wild_shots_that_lose_ball_speed_are_told_where_how_far_they_end_tells_too_little() -> None:
    """Once a week, 3 to 15 % in a part three times as wide: after eight sessions. A limit of .001 is a ratio of 4.4."""
    rng = np.random.default_rng(21)
    ratios = []
    for _ in range(30):
        offline, lost = drawn_with_losses(rng, np.where(np.arange(40) < 32, 0.03, 0.15), np.full(40, 0.01))
        ratios.append([log_ratios_of_rise(weekly(40), *told(offline, one), np.array([39]))[0][0] for one in (None, lost)])
    without, with_losses = (np.array(ratios) > 4.4).mean(axis=0)
    assert with_losses >= 0.6
    assert without <= 0.4


@pytest.mark.parametrize("ends", ["near the middle", "half as often"])
def test_ball_speed_that_is_lost_more_or_less_often_is_no_rise_of_wild_shots(ends: str) -> None:
    """A worn club, other balls: ball speed is lost whichever way the shot goes."""
    rng = np.random.default_rng(22)
    since = 0.15 if ends == "near the middle" else 0.02
    anyway = np.where(np.arange(60) < 45, 0.02 if since == 0.15 else 0.10, since)
    found = []
    for _ in range(30):
        sessions = told(*drawn_with_losses(rng, np.full(60, 0.03), anyway))
        found.append(log_ratios_of_rise(weekly(60, 3.5), *sessions, np.array([48, 52, 59]))[0])
    assert np.mean(np.array(found) > 2.0) <= 0.05
    assert np.max(found) < 4.4


def test_one_shot_cannot_alarm_however_far_out_it_ends() -> None:
    rng = np.random.default_rng(9)
    offline = drawn(rng, np.full(40, 0.01))
    offline[-1, 3] = 500.0
    assert chance_of_ratio(log_ratios_of_rise(weekly(40), *told(offline), np.array([39]))[0])[0] > 0.05


def test_the_chance_is_no_smaller_than_how_often_quiet_players_reach_it() -> None:
    """250 players of one session a week for a year, 22 shots each, of whom 1 to 8 % are wild: own simulation, seeded."""
    rng = np.random.default_rng(12)
    at = np.arange(20, 52, 2)
    found = np.concatenate(
        [
            log_ratios_of_rise(weekly(52), *told(drawn(rng, np.full(52, rng.uniform(0.01, 0.08)), shots=22)), at)[0]
            for _ in range(250)
        ]
    )
    for log_ratio in (2.0, 3.0):
        assert np.mean(found >= log_ratio) <= 1.3 * chance_of_ratio(np.array(log_ratio))
    assert chance_of_ratio(np.array([-np.inf, -RARER, 0.0])).tolist() == pytest.approx([1.0, 1.0, np.exp(-RARER)])


def rows_of(player: str, seed: int, **columns: object) -> pl.DataFrame:
    """A session of 40 shots a week: 2 % wild in half a year, then 20 %; the chart says nothing."""
    offline = drawn(np.random.default_rng(seed), np.where(np.arange(36) < 26, 0.02, 0.2), shots=40)
    off = np.abs(offline - np.median(offline, axis=1, keepdims=True))
    mad = np.median(off, axis=1)
    far = [one[one > FAR_AT * MAD_TO_SD * middle].tolist() for one, middle in zip(off, mad, strict=True)]
    frame = pl.DataFrame(
        {
            "on_date": [START + dt.timedelta(days=7 * one) for one in range(36)],
            "x": np.where(np.arange(36) < 26, 2.5, 9.0),
            "level": np.where(np.arange(36) < 26, 2.5, 8.0),
            "median_off_m": mad,
            "far_off_m": far,
            "lost_side": pl.Series([None] * 36, dtype=pl.List(pl.Float64)),
            "usual_shares": pl.Series([None] * 36, dtype=pl.String),
        }
    )
    given = {
        "metric": "wild_pct", "player_id": player, "club_group": "driver", "club": "driver", "series": "", "session_id": "s",
        "device_id": "", "n": 40, "ratio_n": 0, "noise": 7.2, "variance": 7.2, "level_half": 3.0, "level_error": 1.8,
        "usual": 2.5, "usual_sd": 3.0,
        "usual_n": 26, "worthwhile": 4.0, "growth": 0.0, "chart_up": 0.0, "chart_down": 0.0, "p_chart_up": 1.0,
        "p_chart_down": 1.0, "p_steep_up": 1.0, "p_steep_down": 1.0,
        "ended": "", "season_sine": 0.0, "season_cosine": 0.0, "episode": 0, **columns,
    }  # fmt: skip
    return frame.with_columns(pl.lit(value).alias(name) for name, value in given.items())


def told_chances(rows: pl.DataFrame) -> pl.DataFrame:
    return with_chances_of_rise(rows.with_columns(looks=pl.lit(1.0)), STREAM, pl.col("level") > 3.5, HOLDS_AT)


def test_shots_speak_where_the_chart_says_nothing() -> None:
    rows = rows_of("p1", 1)
    said = chart_candidates(rows, players_judged(rows)).filter(kind="wild_rise").sort("on_date")
    assert said["opens"][-1]
    assert said["p_value"][-1] < 1e-4
    assert f"chance={round(said['p_value'][-1], 5)}" in said["reasons"][-1]
    assert not said["reasons"].list.eval(pl.element().str.starts_with("chart=")).list.any().any()  # of a chart that said nothing
    assert said.filter(pl.col("on_date") < START + dt.timedelta(days=7 * 26)).is_empty()


@pytest.mark.parametrize(("n_told", "weight"), [(0, 0.4), (40, 1.0), (20, 0.7)])
def test_how_far_shots_end_counts_more_where_no_ball_speed_speaks_beside_it(n_told: int, weight: float) -> None:
    """Of the shots of a year, not of all: those of before never told, or always did."""
    first = rows_of("p1", 1, ratio_n=40 - n_told)
    before = first.with_columns(pl.col("on_date") - pl.duration(days=700), pl.lit(2.5).alias("level"))
    found = told_chances(pl.concat([before, rows_of("p1", 2, ratio_n=n_told)]))
    assert found["looks"][-1] == pytest.approx(weight)
    assert found["looks"][0] == 1.0  # not asked


def test_a_rise_that_is_older_than_three_months_is_said_to_last() -> None:
    early = rows_of("p1", 1).with_columns(pl.lit(8.0).alias("level"))
    later = pl.concat([early, rows_of("p1", 2)[26:], rows_of("p1", 3)[26:]])
    dates = [START + dt.timedelta(days=7 * one) for one in range(later.height)]
    found = told_chances(later.with_columns(pl.Series("on_date", dates)))
    assert found["ended"][-1] == "lasting"
    assert found["p_chart_up"][-1] > HOLDS_AT
    assert "lasting" not in found["ended"][:36].to_list()


def test_what_is_said_does_not_hang_on_which_points_are_asked_for() -> None:
    rows = rows_of("p1", 1)
    last = rows.with_columns(pl.when(pl.int_range(pl.len()) < 34).then(None).otherwise(pl.col("level")).alias("level"))
    assert told_chances(last)["p_chart_up"][34:].to_list() == told_chances(rows)["p_chart_up"][34:].to_list()
    assert told_chances(last)["p_chart_up"][:34].to_list() == [1.0] * 34
    assert told_chances(rows.clear()).is_empty()


def test_each_player_is_told_by_the_own_sessions() -> None:
    one, other = rows_of("p1", 1), rows_of("p2", 5, n=41)
    together = told_chances(pl.concat([one, other]))
    alone = pl.concat([told_chances(one), told_chances(other)])
    assert together["p_chart_up"].to_list() == alone["p_chart_up"].to_list()
