"""Strokes and best aim of 200 players, 24 months and 2 courses with their errors: under a minute on two cores."""

from __future__ import annotations

import sys
import time

import numpy as np
import pytest

from pipelines.measures.strokes import DrivePattern, PatternError, course_strokes
from schemas.course import DEFAULT_COURSES

pytestmark = pytest.mark.benchmark


def test_two_hundred_players_for_two_years() -> None:
    rng = np.random.default_rng(3)
    standards = ("scratch", "80", "90", "100")
    patterns = [
        DrivePattern(total, 0.0, 0.055 * total, scatter, mishit_rate=mishit, tail_share=0.05)
        for total, scatter, mishit in zip(
            rng.uniform(170, 270, 4800), rng.uniform(3, 9, 4800), rng.uniform(0, 0.12, 4800), strict=True
        )
    ]
    errors = [PatternError(2.0, 0.1, 0.1, 0.02)] * 1200
    wall, began = time.perf_counter(), time.process_time()
    found = [
        strokes
        for number, standard in enumerate(standards)
        for course in DEFAULT_COURSES
        for strokes in course_strokes(patterns[number::4], course, standard, errors)
    ]
    spent, wall = time.process_time() - began, time.perf_counter() - wall
    said = f"{len(found)} patterns on a course, best aim and standard error: {wall:.1f} s wall, {spent:.1f} s of processor"
    sys.stdout.write(f"\n{said}\n")
    assert len(found) == 9600
    assert spent < 60.0
