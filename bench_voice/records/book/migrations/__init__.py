"""Alembic's scripts: one file a change of the tables, the oldest first."""
