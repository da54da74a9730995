"""The first tables."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "session",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("key", "journal", "stamp", "sheet", "sheet_version")),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("title", "machine_id", "machine", "marks", "who")),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("status", "first_line")),
        sa.Column("started_ms", sa.BigInteger, nullable=False),
        sa.Column("ended_ms", sa.BigInteger, nullable=False),
        sa.Column("clock_went_back", sa.Boolean, nullable=False),
        sa.Column("at", sa.Text, nullable=False),
        sa.Column("at_unit", sa.Text, nullable=False),
        sa.Column("events", sa.Integer, nullable=False),
        sa.Column("last_hash", sa.Text, nullable=False),
        sa.Column("more", sa.Text, nullable=False),
        sa.UniqueConstraint("key"),
    )
    op.create_index("session_machine", "session", ["machine_id", "stamp"])
    op.create_index("session_started", "session", ["started_ms"])
    op.create_table(
        "subject",
        sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("sheet", "reading", "name")),
        sa.UniqueConstraint("sheet", "reading", "name"),
    )
    op.create_table(
        "reading",
        sa.Column("session_id", sa.Integer, sa.ForeignKey("session.id", ondelete="CASCADE"), primary_key=True),
        sa.Column("seq", sa.Integer, primary_key=True),
        sa.Column("subject_id", sa.Integer, sa.ForeignKey("subject.id"), nullable=False),
        sa.Column("step", sa.Text, nullable=False),
        sa.Column("point", sa.Integer, nullable=False),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("value", "unit", "in_limit_unit", "limit_unit")),
        *(sa.Column(name, sa.Text) for name in ("at_least", "at_most", "new")),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("uncertainty", "verdict", "stage", "state")),
        sa.Column("at_ms", sa.BigInteger, nullable=False),
    )
    op.create_index("reading_subject", "reading", ["subject_id", "session_id"])
    op.create_table(
        "entry",
        sa.Column("session_id", sa.Integer, sa.ForeignKey("session.id", ondelete="CASCADE"), primary_key=True),
        sa.Column("number", sa.Integer, primary_key=True),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("kind", "what", "text")),
        sa.Column("at_ms", sa.BigInteger, nullable=False),
    )
    op.create_table(
        "source",
        sa.Column("bench", sa.Text, primary_key=True),
        sa.Column("journal", sa.Text, primary_key=True),
        sa.Column("size", sa.BigInteger, nullable=False),
        sa.Column("mtime_ns", sa.BigInteger, nullable=False),
        sa.Column("problem", sa.Text, nullable=False),
    )


def downgrade() -> None:
    for name in ("source", "entry", "reading", "subject", "session"):
        op.drop_table(name)
