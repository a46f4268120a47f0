"""The move classifier: its weights, and how they are read and evaluated."""
