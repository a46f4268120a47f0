"""What is measured in a rep: one function per measure, one row per measure in ``table``."""
