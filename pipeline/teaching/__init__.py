"""Learns drills from examples, and names from corrections."""
