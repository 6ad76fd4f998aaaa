"""A player's own normal: level, typical error, smallest change worth while."""
