"""Checks before the long work whether a film will do."""
