"""Finds reps and their events, and names their moves."""
