"""Run by Alembic: on the connection that it is given, never by an address of its own."""

from __future__ import annotations

from alembic import context

from bench_voice.records.book.schema import METADATA

# Without a configuration it was imported, and not run.
if config := getattr(context, "config", None):
    context.configure(connection=config.attributes["connection"], target_metadata=METADATA)
    with context.begin_transaction():
        context.run_migrations()
