"""Turns pixels into metres, with draws of what may be wrong."""
