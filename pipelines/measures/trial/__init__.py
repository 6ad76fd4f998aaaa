"""Technique trials of one player: design, power, effects, scatter, strokes, verdict, return to normal."""
