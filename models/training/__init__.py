"""Simulates films of reps and trains the move classifier on them; not part of the wheel."""
