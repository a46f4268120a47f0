"""Crossemetry's program: one module per step, from a clip file to words a player can use."""

__version__ = "0.1.0"
