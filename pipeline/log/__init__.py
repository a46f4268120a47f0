"""The training log: who did how much and how, kept in a database on this machine."""
