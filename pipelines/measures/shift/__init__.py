"""Shifts of a player against the own level: charts, their error rates, and the dating of a change."""
