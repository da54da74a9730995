"""The tables. Numbers that somebody said are texts, since they keep their digits: 4.60 is not 4.6.

`session.key` is the hash of the journal's first line: the same session in two files has the same key. `source` says
what has been read of which bench's folder, and is no content: another bench has other rows there.
"""

from __future__ import annotations

import sqlalchemy as sa

METADATA = sa.MetaData()


def storable(name: str) -> str:
    """A file's name, which may be no UTF-8, as text that a store takes."""
    return name.encode("utf-8", "backslashreplace").decode()


SESSION = sa.Table(
    "session",
    METADATA,
    sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
    sa.Column("key", sa.Text, nullable=False, unique=True),
    sa.Column("journal", sa.Text, nullable=False),
    # The end of the journal's name: tells the order of sessions even where the clock went back.
    sa.Column("stamp", sa.Text, nullable=False),
    sa.Column("sheet", sa.Text, nullable=False),
    sa.Column("sheet_version", sa.Text, nullable=False),
    sa.Column("title", sa.Text, nullable=False),
    sa.Column("machine_id", sa.Text, nullable=False),
    sa.Column("machine", sa.Text, nullable=False),
    sa.Column("marks", sa.Text, nullable=False),
    sa.Column("who", sa.Text, nullable=False),
    sa.Column("status", sa.Text, nullable=False),
    sa.Column("first_line", sa.Text, nullable=False),
    sa.Column("started_ms", sa.BigInteger, nullable=False),
    sa.Column("ended_ms", sa.BigInteger, nullable=False),
    sa.Column("clock_went_back", sa.Boolean, nullable=False),
    # Distance or hours of the machine at this session, as said.
    sa.Column("at", sa.Text, nullable=False),
    sa.Column("at_unit", sa.Text, nullable=False),
    sa.Column("events", sa.Integer, nullable=False),
    sa.Column("last_hash", sa.Text, nullable=False),
    # Differences of points and sides, and what the session said of wear: JSON, shown and never searched.
    sa.Column("more", sa.Text, nullable=False),
)
sa.Index("session_machine", SESSION.c.machine_id, SESSION.c.stamp)
sa.Index("session_started", SESSION.c.started_ms)

# What a reading is called, once for all sessions: a search looks here and not through every value.
SUBJECT = sa.Table(
    "subject",
    METADATA,
    sa.Column("id", sa.Integer, primary_key=True, autoincrement=True),
    sa.Column("sheet", sa.Text, nullable=False),
    sa.Column("reading", sa.Text, nullable=False),
    sa.Column("name", sa.Text, nullable=False),
    sa.UniqueConstraint("sheet", "reading", "name"),
)

READING = sa.Table(
    "reading",
    METADATA,
    sa.Column("session_id", sa.Integer, sa.ForeignKey("session.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("seq", sa.Integer, primary_key=True),
    sa.Column("subject_id", sa.Integer, sa.ForeignKey("subject.id"), nullable=False),
    sa.Column("step", sa.Text, nullable=False),
    sa.Column("point", sa.Integer, nullable=False),
    sa.Column("value", sa.Text, nullable=False),
    sa.Column("unit", sa.Text, nullable=False),
    sa.Column("in_limit_unit", sa.Text, nullable=False),
    sa.Column("limit_unit", sa.Text, nullable=False),
    sa.Column("at_least", sa.Text),
    sa.Column("at_most", sa.Text),
    sa.Column("new", sa.Text),
    # U (k = 2) of the value, in the limit's unit.
    sa.Column("uncertainty", sa.Text, nullable=False),
    sa.Column("verdict", sa.Text, nullable=False),
    sa.Column("stage", sa.Text, nullable=False),
    # "stands", or "part replaced": as found on a part that is no longer there.
    sa.Column("state", sa.Text, nullable=False),
    sa.Column("at_ms", sa.BigInteger, nullable=False),
)
sa.Index("reading_subject", READING.c.subject_id, READING.c.session_id)

ENTRY = sa.Table(
    "entry",
    METADATA,
    sa.Column("session_id", sa.Integer, sa.ForeignKey("session.id", ondelete="CASCADE"), primary_key=True),
    sa.Column("number", sa.Integer, primary_key=True),
    # step, note, decision, look, replaced, left open, to do
    sa.Column("kind", sa.Text, nullable=False),
    sa.Column("what", sa.Text, nullable=False),
    sa.Column("text", sa.Text, nullable=False),
    sa.Column("at_ms", sa.BigInteger, nullable=False),
)

SOURCE = sa.Table(
    "source",
    METADATA,
    sa.Column("bench", sa.Text, primary_key=True),
    sa.Column("journal", sa.Text, primary_key=True),
    sa.Column("size", sa.BigInteger, nullable=False),
    sa.Column("mtime_ns", sa.BigInteger, nullable=False),
    # "" where the journal stands in the logbook; else why it does not, as a person reads it.
    sa.Column("problem", sa.Text, nullable=False),
)
