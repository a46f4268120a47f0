"""Chooses what to report first, and puts it into words, cautions included."""
