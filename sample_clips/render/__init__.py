"""Render short phone-like clips of invented players with their exact truth beside them."""
