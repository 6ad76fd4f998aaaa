"""What academies share and a federation makes of it: groups that hide single persons, sums over them, and their pooling."""
