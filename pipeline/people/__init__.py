"""Runs the pose model, follows persons, decides who is who, and cleans tracks."""
