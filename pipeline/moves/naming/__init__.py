"""Finds and names reps of all moves where the user named none."""
