"""Migrations of the training log's tables (Alembic)."""
