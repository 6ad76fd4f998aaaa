"""Answers about the body, each item and region against the player's own normal."""
