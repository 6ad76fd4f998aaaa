"""Trends of session values: what the level is, how it has changed over four weeks, and how sure that is."""
