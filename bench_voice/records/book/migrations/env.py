"""Run by Alembic: on the connection that it is given, never by an address of its own."""

from __future__ import annotations

from alembic import context

from bench_voice.records.book.schema import METADATA

context.configure(connection=context.config.attributes["connection"], target_metadata=METADATA)
with context.begin_transaction():
    context.run_migrations()
