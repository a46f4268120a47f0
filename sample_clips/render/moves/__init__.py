"""Choreography of the three moves: what a player does, as keys drawn by a seeded generator."""
