"""The season's programme: phases of the plan, what was done in them, and what changed while they lasted."""
