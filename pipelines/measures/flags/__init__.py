"""Flags: what rules say of a night, and the engine that turns it into episodes."""
