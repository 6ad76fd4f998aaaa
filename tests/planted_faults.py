"""Faults that once left every test green, each put in alone: ``make faults`` says which test finds it.

A copy of the repository gets one fault at a time, and the test named beside it must fail.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[1]
_PARTS = ("pipelines", "reports", "schemas", "tests", "warehouse", "pyproject.toml")
_EXAMPLES = "tests/warehouse/test_sql_examples.py"


@dataclass(frozen=True)
class Fault:
    """One fault: in ``path``, ``new`` in the place of ``old``, which ``test`` must find."""

    says: str
    path: str
    old: str
    new: str
    test: str


FAULTS: tuple[Fault, ...] = (
    Fault(
        "control of false discoveries taken out",
        "pipelines/measures/flags/discovery.py",
        "scaled = p_values[order] * m / np.arange(1, p_values.size + 1)",
        "scaled = p_values[order] + 0.0",
        "tests/unit/test_flag_discovery.py",
    ),
    Fault(
        "warm-ups counted as the normal swing",
        "warehouse/views/core/own_swing.sql",
        "where shot_day.counts\n  and",
        "where",
        f"{_EXAMPLES} -k own_swing",
    ),
    Fault(
        "speed sessions counted as the normal swing",
        "warehouse/views/core/normal_swing.sql",
        "where session_kind <> 'speed'",
        "",
        f"{_EXAMPLES} -k normal_swing",
    ),
    Fault(
        "changed arms of a trial counted as the normal swing",
        "warehouse/views/core/own_swing.sql",
        "\n  and coalesce(shot_day.arm = trial.normal_arm, true)",
        "",
        f"{_EXAMPLES} -k own_swing",
    ),
    Fault(
        "training clubs in the summaries",
        "warehouse/views/core/own_swing.sql",
        "\n  and shot_day.club_group <> 'training'",
        "",
        f"{_EXAMPLES} -k own_swing",
    ),
    Fault(
        "summaries read every shot",
        "pipelines/stages/measure/summaries.py",
        '"own_swing"',
        '"shot_day"',
        "tests/warehouse/test_summaries.py",
    ),
    Fault(
        "mishits left in the core of a pattern",
        "pipelines/measures/scatter/months.py",
        "np.isfinite(direction) & ~short",
        "np.isfinite(direction)",
        "tests/unit/test_month_patterns.py",
    ),
    Fault(
        "restated carry unused in trends",
        "pipelines/stages/measure/trends.py",
        "pl.coalesce(told[name], pl.col(name))",
        "pl.coalesce(pl.col(name), told[name])",
        "tests/warehouse/test_summaries.py",
    ),
    Fault(
        "a physio's decision shown to the coach",
        "warehouse/views/marts/mart_flag_coach.sql",
        "case when decided_role = 'physio' then 'in hand' else decision end",
        "decision",
        f"{_EXAMPLES} -k mart_flag_coach",
    ),
    Fault(
        "the lead side swapped",
        "pipelines/measures/body/side.py",
        'select("player_id", lead_side=lead, trail_side=trail)',
        'select("player_id", lead_side=trail, trail_side=lead)',
        "tests/unit/test_body_side.py",
    ),
    Fault(
        "the lead side of the sheet swapped",
        "reports/pages/review.py",
        "words(f\"review.{who['lead_side']}\")",
        'words("review.right" if who[\'lead_side\'] == "left" else "review.left")',
        "tests/report/test_load_body_pages.py -k lead_side",
    ),
    Fault(
        "the sign of a phase's change turned",
        "pipelines/measures/programme/changes.py",
        'change = pl.col("after") - pl.col("before")',
        'change = pl.col("before") - pl.col("after")',
        "tests/unit/test_programme.py",
    ),
    Fault(
        "a phase counted from the day after its first",
        "pipelines/measures/programme/changes.py",
        'pl.col("on_date").is_between("began_on", "ended_on")',
        'pl.col("on_date").is_between("began_on", "ended_on", closed="right")',
        "tests/unit/test_programme.py",
    ),
    Fault(
        "a rest day counted as a session (load)",
        "pipelines/measures/load/day.py",
        '(~pl.col("is_rest")).sum()',
        "pl.len()",
        "tests/unit/test_day_load.py",
    ),
    Fault(
        "a rest day counted as a session (coverage)",
        "warehouse/views/marts/mart_coverage.sql",
        "count(distinct on_date) filter (kind <> 'rest')",
        "count(distinct on_date)",
        f"{_EXAMPLES} -k mart_coverage",
    ),
    Fault(
        "an unfinished week of a plan counted",
        "warehouse/views/core/finished_plan_week.sql",
        "plan_week.week_starting + 6 <= last_day.on_date\n  and ",
        "",
        f"{_EXAMPLES} -k finished_plan_week",
    ),
    Fault(
        "an unfinished week counted in a phase",
        "pipelines/measures/programme/phases.py",
        'pl.col("week_starting") + pl.duration(days=6) <= as_of',
        'pl.col("week_starting") <= as_of',
        "tests/unit/test_programme.py",
    ),
    Fault(
        "an absence not excused",
        "warehouse/views/core/finished_plan_week.sql",
        "absence.began_on <= plan_week.week_starting + 6",
        "absence.began_on < plan_week.week_starting - 99",
        f"{_EXAMPLES} -k finished_plan_week",
    ),
    Fault(
        "a minor's birthday that lies ahead forgotten",
        "schemas/academy.py",
        "year - birth_year <= self.minor_age",
        "year - birth_year < self.minor_age",
        "tests/unit/test_settings.py",
    ),
    Fault(
        "half the strike loss (of a month)",
        "pipelines/measures/transfer/months.py",
        "off_centre_loss(distance), nan_to_null",
        "off_centre_loss(distance) / 2, nan_to_null",
        "tests/property/test_transfer.py",
    ),
    Fault(
        "half the strike loss (in the decomposition)",
        "pipelines/measures/transfer/decomposition.py",
        "1.0 - (delivery.strike_loss or 0.0)",
        "1.0 - (delivery.strike_loss or 0.0) / 2",
        "tests/property/test_transfer.py",
    ),
    Fault(
        "somebody who leaves today is still here",
        "warehouse/views/core/present_player.sql",
        "player.left_on > last_day.on_date",
        "player.left_on >= last_day.on_date",
        f"{_EXAMPLES} -k present_player",
    ),
    Fault(
        "typed swings beaten by recorded ones",
        "warehouse/views/core/swings_of_session.sql",
        "coalesce(session_day.swings_full, recorded.n_swings,",
        "coalesce(recorded.n_swings, session_day.swings_full,",
        f"{_EXAMPLES} -k swings_of_session",
    ),
    Fault(
        "an unknown session counted as none",
        "warehouse/views/core/swings_of_session.sql",
        "case when session_day.kind in ('rest', 'gym') then 0 end",
        "0",
        f"{_EXAMPLES} -k swings_of_session",
    ),
)


def _exit_code(test: str, copy: Path) -> int:
    command = [sys.executable, "-m", "pytest", "-q", "-x", *test.split()]
    return subprocess.run(command, cwd=copy, check=False, capture_output=True).returncode


def found(fault: Fault, copy: Path) -> bool:
    """Whether the test fails with the fault in the copy; the copy is as before afterwards."""
    path = copy / fault.path
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace(fault.old, fault.new), encoding="utf-8")
    try:
        return _exit_code(fault.test, copy) == 1
    finally:
        path.write_text(text, encoding="utf-8")


def _copied(folder: Path) -> Path:
    for part in _PARTS:
        source = ROOT / part
        if source.is_dir():
            shutil.copytree(source, folder / part, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copy(source, folder / part)
    return folder


def main() -> int:
    """Put in every fault, print the table, and fail when one is not found, or a test is red without any."""
    with tempfile.TemporaryDirectory() as folder:
        copy = _copied(Path(folder))
        red = [test for test in sorted({fault.test for fault in FAULTS}) if _exit_code(test, copy) != 0]
        caught = {fault.says: found(fault, copy) for fault in FAULTS}
    for fault in FAULTS:
        sys.stdout.write(f"{'caught' if caught[fault.says] else 'MISSED':7} {fault.says:56} {fault.test}\n")
    sys.stdout.writelines(f"red without any fault: {test}\n" for test in red)
    sys.stdout.write(f"{sum(caught.values())} of {len(FAULTS)} caught\n")
    return int(bool(red) or not all(caught.values()))


if __name__ == "__main__":
    sys.exit(main())
