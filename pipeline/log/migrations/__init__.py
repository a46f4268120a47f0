"""How the tables of the training log came to be as they are, step by step (Alembic)."""
