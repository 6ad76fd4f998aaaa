"""Expected strokes of drives.

``expected_strokes(pattern, course, standard)`` values one :class:`DrivePattern` on a :class:`schemas.course.Course` at the
best aim; ``course_strokes(patterns, course, standard, errors)`` many at once, ``round_strokes`` no more than what a round costs,
and ``map_strokes`` that of the many patterns of a map.
``strokes_to_hole_out`` is the published baseline. Scatter is a standard deviation: ``DrivePattern(total_m, direction_deg,
total_sd_m, direction_sd_deg)``.
"""

from pipelines.measures.strokes.baseline import STANDARDS, YARD_M, Lie, strokes_to_hole_out
from pipelines.measures.strokes.expected import (
    course_strokes,
    expected_strokes,
    map_strokes,
    round_strokes,
)
from pipelines.measures.strokes.pattern import DrivePattern, PatternError, PatternStrokes

__all__ = [
    "STANDARDS",
    "YARD_M",
    "DrivePattern",
    "Lie",
    "PatternError",
    "PatternStrokes",
    "course_strokes",
    "expected_strokes",
    "map_strokes",
    "round_strokes",
    "strokes_to_hole_out",
]
