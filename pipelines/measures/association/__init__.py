"""What goes with what inside a player; never what causes what."""
