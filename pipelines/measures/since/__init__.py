"""Whether a player's sessions lie where they lay before a day: after a break, a change, or a trial."""
