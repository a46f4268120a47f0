"""Exports results to the formats of other programs: tables and motion files."""
