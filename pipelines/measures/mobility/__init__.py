"""Mobility screens against the smallest change that the test can detect."""
