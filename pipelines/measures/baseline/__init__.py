"""A player's own normal: level, typical error, smallest change worth while, and chances of better and worse."""
