"""Alembic migrations, oldest first by their number."""
