"""Draws the pictures and films of a report."""
