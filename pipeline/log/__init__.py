"""The training log: sessions, reps and measures of each athlete in a local database."""
