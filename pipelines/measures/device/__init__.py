"""Offsets between devices, as far as players who used more than one tell them apart."""
