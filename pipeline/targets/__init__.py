"""Holds target ranges and gives verdicts."""
