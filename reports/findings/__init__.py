"""Rows into sentences: pure functions, one module for each area. They state what a measure found; they compute no finding."""
