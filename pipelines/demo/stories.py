"""The stories of the invented academy: what happens to whom, what should be found of it, and what should stay silent."""

from __future__ import annotations

from datetime import date

from pipelines.demo.effects import Effect
from pipelines.demo.truth import Decoy, ProgrammeTruth, Story, Tolerated

SHIFTED_DEVICE = "unit-2"
SHIFT_FROM, SHIFT_UNTIL, SHIFT_SHARE = date(2025, 7, 7), date(2025, 8, 18), 0.02
"""The outdoor unit reads club speed too high for six weeks."""

_PLATEAU = (
    Effect("p06", "speed", date(2025, 11, 10), 0.050, 112),
)  # fmt: skip
_DRIFT = (Effect("p07", "speed", date(2026, 5, 4), -0.028, 42),)
_SCATTER = (Effect("p04", "scatter", date(2026, 6, 1), 1.0),)
_AIM = (Effect("p08", "aim_deg", date(2025, 5, 12), 4.5, 0, date(2025, 6, 30)),)
_JUMP = (
    Effect("p09", "load", date(2026, 5, 16), 2.6, 0, date(2026, 5, 17)),
    Effect("p09", "load", date(2026, 5, 17), 0.9, 0, date(2026, 5, 22)),
)
_FLAT = (Effect("p10", "daily", date(2025, 9, 1), 1.0, 0, date(2025, 9, 26)),)
_BREAK = (
    Effect("p11", "stiff_lower_back", date(2025, 9, 8), 3.0, 4, date(2025, 9, 26)),
    Effect("p11", "stiff_lower_back", date(2025, 9, 26), 1.0, 0, date(2025, 10, 9)),
    Effect("p11", "away", date(2025, 9, 18), 1.0, 0, date(2025, 10, 13)),
    Effect("p11", "load", date(2025, 10, 13), -0.5, 0, date(2025, 10, 27)),
    Effect("p11", "speed", date(2025, 10, 13), -0.015, 0, date(2025, 11, 10)),
)
_FATIGUE = (
    Effect("p12", "fatigue", date(2026, 5, 4), 3.0, 5, date(2026, 5, 30)),
    Effect("p12", "stress", date(2026, 5, 4), 2.5, 5, date(2026, 5, 30)),
    Effect("p12", "sleep_trouble", date(2026, 5, 4), 2.0, 5, date(2026, 5, 30)),
    Effect("p12", "sleep_h", date(2026, 5, 4), -1.2, 5, date(2026, 5, 30)),
)
_ELBOW = (
    Effect("p13", "stiff_trail_elbow", date(2026, 6, 3), 2.0, 5, date(2026, 7, 6)),
    Effect("p13", "load", date(2026, 6, 15), -0.5, 0, date(2026, 7, 6)),
)
_QUIET = (
    Effect("p14", "away", date(2026, 8, 10), 1.0),
    Effect("p14", "silent", date(2026, 8, 10), 1.0),
)
_TRANSFER = (
    Effect("p15", "speed", date(2026, 1, 12), 0.030, 28),
    Effect("p15", "strike_side_mm", date(2026, 1, 12), -16.0, 28, date(2026, 4, 13)),
)
_COST = (
    Effect("p16", "speed", date(2026, 4, 6), 0.055, 42),
    Effect("p16", "scatter", date(2026, 4, 6), 0.45, 42),
)
_OVERUSE = (
    Effect("p17", "load", date(2026, 8, 31), 0.9, 7),
    Effect("p17", "stiff_lead_wrist", date(2026, 9, 3), 3.0, 5),
    Effect("p17", "speed", date(2026, 9, 3), -0.025, 10),
    Effect("p17", "sleep_h", date(2026, 9, 1), -1.5, 5),
    Effect("p17", "sleep_trouble", date(2026, 9, 1), 1.5, 5),
)
_GAP = (Effect("p18", "load", date(2026, 6, 29), -0.55),)
_RISE = (Effect("p19", "speed", date(2026, 1, 12), 0.036, 56),)
_SELDOM = (Effect("p19", "unanswered", date(2026, 5, 11), 0.8, 0, date(2026, 6, 29)),)
_TIGHTER = (Effect("p20", "scatter", date(2026, 5, 11), -0.45),)

_WILD = (Effect("p12", "wild", date(2026, 7, 6), 0.18),)

_TRIED = (
    # p02 keeps her wider stance after the trial
    Effect("p02", "speed", date(2026, 4, 27), 0.024),
    # p05 took a later hit into play for eight weeks, then went back to normal
    Effect("p05", "speed", date(2025, 4, 21), 0.022, 7, date(2025, 6, 16)),
    Effect("p05", "scatter", date(2025, 4, 21), 0.5, 7, date(2025, 6, 16)),
    Effect("p05", "path_deg", date(2025, 4, 21), -2.5, 7, date(2025, 6, 16)),
    # the coach's own winter of body training
    Effect("p01", "speed", date(2025, 11, 3), 0.013, 84),
    # while the coach tries the long backswing, the lower back answers a little
    Effect("p01", "stiff_lower_back", date(2026, 8, 24), 1.2, 5, date(2026, 9, 14)),
)
_SQUAD = (
    # a cold spring, and one cold windy week, are made in the weather; nobody swings fast in mittens
    Effect("p24", "speed", date(2026, 3, 2), 0.006, 56),
    Effect("p23", "daily", date(2026, 1, 12), 1.0, 0, date(2026, 1, 26)),
    Effect("p23", "load", date(2026, 1, 12), -0.65, 0, date(2026, 1, 26)),
    Effect("p21", "away", date(2025, 7, 21), 1.0, 0, date(2025, 8, 4)),
    Effect("p21", "away", date(2026, 2, 9), 1.0, 0, date(2026, 2, 23)),
    Effect("p03", "away", date(2025, 2, 10), 1.0, 0, date(2025, 2, 17)),
    Effect("p16", "away", date(2025, 11, 17), 1.0, 0, date(2025, 11, 24)),
)

EFFECTS: tuple[Effect, ...] = (
    _PLATEAU + _DRIFT + _SCATTER + _AIM + _JUMP + _FLAT + _BREAK + _FATIGUE + _ELBOW + _QUIET + _TRANSFER + _COST
    + _OVERUSE + _GAP + _RISE + _SELDOM + _TIGHTER + _WILD + _TRIED + _SQUAD
)  # fmt: skip

STORIES: tuple[Story, ...] = (
    Story(
        "p04",
        "strokes_worse",
        date(2026, 6, 1),
        date(2026, 7, 31),
        "A pattern twice as wide costs strokes on a tree-lined course, at the same speed.",
    ),
    Story(
        "p20",
        "strokes_better",
        date(2026, 5, 11),
        date(2026, 7, 31),
        "A pattern that is 45 % narrower saves strokes, at the same speed.",
    ),
    Story(
        "p06",
        "speed_rise",
        date(2025, 11, 10),
        date(2026, 2, 9),
        "A growing junior in a speed programme gains 1.2 % a month for four months.",
        "club_speed_mps",
    ),
    Story(
        "p06",
        "speed_stall",
        date(2026, 3, 2),
        date(2026, 4, 27),
        "The gain of the winter stops on this day; speed stays level from here.",
        "club_speed_mps",
    ),
    Story(
        "p07",
        "speed_fall",
        date(2026, 5, 4),
        date(2026, 7, 3),
        "Driver speed drifts down by 2.8 % over six weeks and stays there.",
        "club_speed_mps",
    ),
    Story(
        "p04",
        "scatter_rise",
        date(2026, 6, 1),
        date(2026, 6, 29),
        "A new grip, taken up without a trial: left-right scatter doubles.",
    ),
    Story(
        "p08",
        "aim_shift",
        date(2025, 5, 12),
        date(2025, 6, 16),
        "The whole pattern moves left of a left-hander's target by about 4.5 degrees, and is put right seven weeks later.",
    ),
    Story(
        "p09",
        "load_jump",
        date(2026, 5, 16),
        date(2026, 5, 17),
        "One day with far more swings than on any of the last 30 days, before a busy week.",
    ),
    Story(
        "p10",
        "load_flat",
        date(2025, 9, 1),
        date(2025, 9, 25),
        "Twenty-five days of practice in a row, each like the other.",
    ),
    Story(
        "p11",
        "body_stiff",
        date(2025, 9, 8),
        date(2025, 9, 17),
        "The lower back gets stiffer over four days and stays so; ten days after the first sign the player has to stop.",
        region="lower_back",
    ),
    Story(
        "p12",
        "body_fatigue",
        date(2026, 5, 4),
        date(2026, 5, 18),
        "Weeks of examinations: tired, tense and short of sleep.",
    ),
    Story(
        "p13",
        "problem_report",
        date(2026, 6, 7),
        date(2026, 6, 15),
        "The weekly form tells of the trail elbow, with practice changed because of it, four weeks in a row.",
        region="trail_elbow",
    ),
    Story("p14", "quiet", date(2026, 8, 10), date(2026, 9, 7), "Neither sessions nor answers from this day on."),
    Story(
        "p15",
        "transfer_loss",
        date(2026, 1, 12),
        date(2026, 4, 6),
        "Club speed rises by 3 %, and the strike moves 16 mm toward the heel: nothing of it reaches the ball.",
    ),
    Story(
        "p16",
        "speed_cost",
        date(2026, 4, 6),
        date(2026, 7, 27),
        "Five and a half per cent of speed for almost half more scatter: it pays on the open course and costs among trees.",
    ),
    Story(
        "p19",
        "answers_fewer",
        date(2026, 5, 11),
        date(2026, 6, 22),
        "Practice goes on, and most of the morning's questions stay unanswered for seven weeks.",
    ),
    Story(
        "p17",
        "overuse_pattern",
        date(2026, 8, 31),
        date(2026, 9, 21),
        "More swings, a stiff lead wrist, less speed and less sleep, all at once.",
        region="lead_wrist",
    ),
    Story("p18", "plan_gap", date(2026, 6, 29), date(2026, 8, 3), "Less than half of the planned swings are done from here on."),
    Story(
        "p19",
        "speed_rise",
        date(2026, 1, 12),
        date(2026, 3, 30),
        "A speed programme works: 3.6 % over eight weeks.",
        "club_speed_mps",
    ),
    Story(
        "p20",
        "scatter_fall",
        date(2026, 5, 11),
        date(2026, 7, 6),
        "Left-right scatter is almost halved by work on the strike.",
    ),
    Story(
        "p12",
        "wild_rise",
        date(2026, 7, 6),
        date(2026, 8, 24),
        "One drive in six flies far to a side; the others land as close together as before.",
        "wild_pct",
    ),
    Story(
        "",
        "device_shift",
        SHIFT_FROM,
        date(2025, 8, 4),
        "The outdoor unit reads club speed 2 % too high for six weeks; everybody on it seems faster.",
        "club_speed_mps",
        device_id=SHIFTED_DEVICE,
    ),
)

_END = date(2026, 9, 30)

TOLERATED: tuple[Tolerated, ...] = (
    Tolerated("p02", "speed_rise", date(2026, 4, 27), _END, "Keeps the wider stance after the trial: 2.4 %."),
    Tolerated("p02", "speed_stall", date(2026, 5, 11), _END, "A step is no slope: the gain is over at once."),
    Tolerated("p05", "speed_stall", date(2025, 5, 5), date(2025, 7, 31), "A step is no slope: the gain is over at once."),
    Tolerated("p05", "speed_rise", date(2025, 4, 21), date(2025, 7, 6), "Plays the change for eight weeks."),
    Tolerated("p05", "scatter_rise", date(2025, 4, 21), date(2025, 7, 6), "Plays the change for eight weeks."),
    Tolerated("p05", "speed_cost", date(2025, 4, 21), date(2025, 7, 6), "Plays the change for eight weeks."),
    Tolerated("p05", "speed_fall", date(2025, 6, 16), date(2025, 8, 31), "Back to normal, down from the change."),
    Tolerated("p05", "scatter_fall", date(2025, 6, 16), date(2025, 8, 31), "Back to normal, down from the change."),
    Tolerated("p05", "aim_shift", date(2025, 4, 21), date(2025, 8, 31), "The path of the change moves the pattern."),
    Tolerated("p01", "speed_rise", date(2025, 11, 3), date(2026, 5, 31), "A winter of body training: 1.3 %."),
    Tolerated("p01", "body_stiff", date(2026, 8, 24), _END, "The lower back answers the long backswing."),
    Tolerated("p04", "aim_shift", date(2026, 6, 1), _END, "A wide pattern moves its middle."),
    Tolerated("p06", "strokes_better", date(2025, 12, 1), _END, "Five per cent of speed are worth strokes."),
    Tolerated("p06", "plan_gap", date(2025, 3, 3), _END, "School weeks."),
    Tolerated("p07", "strokes_worse", date(2026, 6, 15), _END, "Slower drives are shorter."),
    Tolerated("p08", "aim_shift", date(2025, 6, 30), date(2025, 8, 31), "The aim is put right."),
    Tolerated("p09", "load_jump", date(2026, 5, 17), date(2026, 5, 31), "The busy week after the big day."),
    Tolerated("p09", "body_stiff", date(2026, 5, 16), date(2026, 6, 7), "The days after the big day."),
    Tolerated("p09", "body_fatigue", date(2026, 5, 16), date(2026, 6, 7), "The days after the big day."),
    Tolerated("p09", "plan_gap", date(2026, 5, 16), date(2026, 6, 15), "Far more than planned."),
    Tolerated("p10", "load_jump", date(2025, 9, 1), date(2025, 9, 30), "Practice on every day."),
    Tolerated("p10", "plan_gap", date(2025, 9, 1), date(2025, 10, 15), "Practice on every day."),
    Tolerated("p10", "body_fatigue", date(2025, 9, 1), date(2025, 10, 15), "Practice on every day."),
    Tolerated("p11", "body_stiff", date(2025, 9, 18), date(2025, 10, 31), "The break itself."),
    Tolerated("p11", "problem_report", date(2025, 9, 14), date(2025, 10, 31), "The break itself."),
    Tolerated("p11", "overuse_pattern", date(2025, 9, 8), date(2025, 10, 31), "Around the break."),
    Tolerated("p11", "plan_gap", date(2025, 9, 18), date(2025, 11, 15), "The break itself."),
    Tolerated("p11", "speed_fall", date(2025, 10, 13), date(2025, 11, 30), "Slower after the break."),
    Tolerated("p12", "strokes_worse", date(2026, 7, 6), _END, "Wild drives cost strokes."),
    Tolerated("p12", "scatter_rise", date(2026, 7, 6), _END, "Wild drives widen the pattern a little."),
    Tolerated("p12", "aim_shift", date(2026, 7, 6), _END, "Wild drives move its middle a little."),
    Tolerated("p12", "overuse_pattern", date(2026, 5, 4), date(2026, 6, 15), "Short of sleep."),
    Tolerated("p13", "body_stiff", date(2026, 6, 3), date(2026, 7, 20), "The elbow."),
    Tolerated("p13", "overuse_pattern", date(2026, 6, 3), date(2026, 7, 20), "The elbow."),
    Tolerated("p13", "plan_gap", date(2026, 6, 15), date(2026, 7, 31), "Practice is eased."),
    Tolerated("p14", "plan_gap", date(2026, 8, 10), _END, "Nothing is done."),
    Tolerated("p15", "speed_rise", date(2026, 1, 12), _END, "The speed is real."),
    Tolerated("p15", "aim_shift", date(2026, 1, 12), date(2026, 6, 30), "A heel strike curves the ball."),
    Tolerated("p15", "speed_stall", date(2026, 2, 9), _END, "The gain is over after four weeks."),
    Tolerated("p15", "scatter_rise", date(2026, 1, 12), date(2026, 6, 30), "Strikes far off the centre spread the carry."),
    Tolerated("p15", "scatter_fall", date(2026, 4, 13), date(2026, 7, 31), "The strike is back in the centre."),
    Tolerated("p16", "speed_rise", date(2026, 4, 6), _END, "The speed is real."),
    Tolerated("p16", "scatter_rise", date(2026, 4, 6), _END, "The scatter is real."),
    Tolerated("p16", "strokes_worse", date(2026, 4, 6), _END, "The scatter costs more than the speed saves."),
    Tolerated("p16", "speed_stall", date(2026, 5, 18), _END, "The gain is over after six weeks."),
    Tolerated("p17", "load_jump", date(2026, 8, 31), _END, "Part of the pattern."),
    Tolerated("p17", "body_stiff", date(2026, 9, 3), _END, "Part of the pattern."),
    Tolerated("p17", "body_fatigue", date(2026, 9, 1), _END, "Part of the pattern."),
    Tolerated("p17", "speed_fall", date(2026, 9, 3), _END, "Part of the pattern."),
    Tolerated("p17", "plan_gap", date(2026, 8, 31), _END, "More than planned."),
    Tolerated("p19", "strokes_better", date(2026, 2, 9), _END, "Three and a half per cent of speed are worth strokes."),
    Tolerated("p19", "speed_stall", date(2026, 3, 9), _END, "The programme is over."),
    Tolerated("", "device_shift", SHIFT_UNTIL, date(2025, 9, 30), "The unit is put right."),
)

PROGRAMMES: tuple[ProgrammeTruth, ...] = (
    ProgrammeTruth("p02", "speed block", date(2025, 1, 13), date(2025, 3, 9), 0.0),
    ProgrammeTruth("p14", "speed block", date(2025, 1, 13), date(2025, 3, 9), 0.0),
    ProgrammeTruth("p05", "technique block", date(2025, 4, 21), date(2025, 6, 15), 0.022, 0.5),
    ProgrammeTruth("p01", "body block", date(2025, 11, 3), date(2026, 1, 25), 0.013),
    ProgrammeTruth("p09", "body block", date(2025, 11, 3), date(2026, 1, 25), 0.0),
    ProgrammeTruth("p06", "speed block", date(2025, 11, 10), date(2026, 3, 1), 0.050),
    ProgrammeTruth("p15", "speed block", date(2026, 1, 12), date(2026, 2, 8), 0.030),
    ProgrammeTruth("p19", "speed block", date(2026, 1, 12), date(2026, 3, 8), 0.036),
    ProgrammeTruth("p02", "speed block", date(2026, 1, 12), date(2026, 3, 8), 0.0),
    ProgrammeTruth("p16", "speed block", date(2026, 4, 6), date(2026, 5, 17), 0.055, 0.45),
    ProgrammeTruth("p20", "technique block", date(2026, 5, 11), date(2026, 7, 5), 0.0, -0.45),
    ProgrammeTruth("p04", "technique block", date(2026, 6, 1), date(2026, 7, 26), 0.0, 1.0),
)

QUIET_PLAYERS: tuple[str, ...] = ("p21", "p22", "p23", "p24")

DECOYS: tuple[Decoy, ...] = (
    Decoy(
        "p21",
        "holiday, then the usual week",
        date(2025, 7, 21),
        date(2025, 8, 31),
        ("load_jump", "quiet", "plan_gap", "speed_fall"),
        "Two weeks away, entered as an absence; the first week back is a week like any other.",
    ),
    Decoy(
        "p22",
        "odd sessions",
        date(2025, 1, 6),
        _END,
        ("speed_fall", "speed_rise", "scatter_rise", "aim_shift"),
        "One session in twenty-five is three to four form deviations off, up or down.",
    ),
    Decoy(
        "p22",
        "a new bay",
        date(2026, 1, 12),
        date(2026, 4, 30),
        ("speed_rise", "speed_fall", "transfer_loss"),
        "A new unit that reads club speed 1.5 % higher than the old one.",
    ),
    Decoy("p23", "answers on 60 % of the days", date(2025, 1, 6), _END, ("quiet",), "A player who answers when it suits."),
    Decoy(
        "p23",
        "two weeks of light practice, every day alike",
        date(2026, 1, 12),
        date(2026, 2, 1),
        ("load_flat", "load_jump"),
        "Even, and easy: flat at a third of the usual is no strain.",
    ),
    Decoy(
        "p24",
        "a slow genuine rise",
        date(2026, 3, 2),
        date(2026, 7, 31),
        ("speed_rise", "speed_fall", "speed_stall"),
        "0.3 % in 28 days, over eight weeks: true, and below what is worth a message.",
    ),
    Decoy(
        "p02",
        "ratings that are nearly always zero",
        date(2024, 3, 4),
        _END,
        ("body_stiff", "body_fatigue"),
        "A one among zeros is not news.",
    ),
    Decoy(
        "",
        "a cold windy week",
        date(2026, 4, 13),
        date(2026, 4, 26),
        ("speed_fall",),
        "Twelve degrees colder than usual and a stiff wind: carry is short for everybody, nobody swings slower.",
    ),
    Decoy(
        "",
        "a cold spring",
        date(2025, 3, 10),
        date(2025, 5, 4),
        ("speed_fall", "transfer_loss"),
        "Eight weeks about six degrees colder than usual.",
    ),
)
