"""Opening the logbook: SQLite in a file, or the workshop's PostgreSQL. The tables are brought up to date here."""

from __future__ import annotations

import contextlib
import os
import platform
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from bench_voice.errors import JournalError, UsageError
from bench_voice.records.book.schema import storable

FILE_NAME = "logbook.sqlite3"
HEAD = "0001"  # the newest of `migrations/versions`
_WAIT_S = 5  # for a server that does not answer, and for another bench that is writing
# Any number will do that no other program of the workshop's server locks.
_LOCK = 0x62656E6368


@dataclass(frozen=True)
class Book:
    """An open logbook. `where`: as a person is told of it, without a password; `bench`: whose journals it reads."""

    engine: sa.Engine
    where: str
    bench: str

    @contextlib.contextmanager
    def read(self) -> Iterator[sa.Connection]:
        """One look at one moment: what others write meanwhile is not in it. Raises JournalError."""
        with told(self.where), self.engine.connect() as connection:
            yield connection

    @contextlib.contextmanager
    def write(self) -> Iterator[sa.Connection]:
        """All of it or nothing. Raises JournalError."""
        with told(self.where), self.engine.execution_options(is_write=True).begin() as connection:
            yield connection

    def close(self) -> None:
        self.engine.dispose()


def bench_name(folder: Path) -> str:
    return storable(f"{platform.node()}:{folder.resolve()}")


def open_book(folder: Path, url: str | None = None, *, in_memory: bool = False) -> Book:
    """The logbook of the journals in `folder`: `url` names a server ("postgresql://host/name"), else it is a file in
    that folder. Raises UsageError for another kind of address, JournalError where it cannot be had.
    """
    bench = bench_name(folder)
    if in_memory:
        engine = sa.create_engine("sqlite://", poolclass=sa.StaticPool)
        where = "memory"
    elif url:
        engine, where = _server(url)
    else:
        path = folder / FILE_NAME
        where = storable(str(path))
        if path.exists() and path.stat().st_size and not _is_sqlite(path):
            raise _unusable(where, "it is no logbook")
        with contextlib.suppress(OSError):
            # What was said in a workshop is its people's own, as the journals are.
            os.close(os.open(path, os.O_CREAT | os.O_RDWR, 0o600))
        # By its path and not by an address: a folder's name may be no UTF-8.
        engine = sa.create_engine("sqlite://", creator=lambda: _connect(path), poolclass=sa.QueuePool)
    if engine.dialect.name == "sqlite":
        _prepare_sqlite(engine)
    book = Book(engine, where, bench)
    try:
        _bring_up_to_date(book)
    except BaseException:
        book.close()
        raise
    return book


def _connect(path: Path) -> Any:
    import sqlite3

    return sqlite3.connect(path, timeout=_WAIT_S, check_same_thread=False)


def _is_sqlite(path: Path) -> bool:
    with contextlib.suppress(OSError), path.open("rb") as file:
        return file.read(16) == b"SQLite format 3\0"
    return True  # what may not be read is told by SQLite itself


def _server(url: str) -> tuple[sa.Engine, str]:
    try:
        parsed = sa.make_url(url)
    except sa.exc.ArgumentError as error:
        raise _no_address(url) from error
    if parsed.drivername not in ("postgresql", "postgresql+psycopg"):
        raise _no_address(parsed.render_as_string())
    try:
        import psycopg  # noqa: F401
    except ImportError as error:
        raise UsageError(
            "The logbook is on a PostgreSQL server, and the library for it is not installed.",
            mend="Install it: pip install 'bench-voice[postgresql]'.",
            slug="logbook-no-driver",
        ) from error
    engine = sa.create_engine(
        parsed.set(drivername="postgresql+psycopg"),
        connect_args={
            "connect_timeout": _WAIT_S,
            # A server that vanishes is noticed in seconds, not in the two hours of the system's own patience.
            "keepalives_idle": _WAIT_S,
            "keepalives_interval": 2,
            "keepalives_count": 3,
            "tcp_user_timeout": 15_000,
        },
        pool_size=1,
        isolation_level="REPEATABLE READ",
    )
    return engine, parsed.set(password=None).render_as_string()


def _no_address(url: str) -> UsageError:
    return UsageError(
        f'"{url}" is no address of a logbook.',
        mend="Write postgresql://user@host/name, or leave it out for a file beside the journals.",
        slug="logbook-address",
    )


def _prepare_sqlite(engine: sa.Engine) -> None:
    """WAL, so that one may read while another writes; and transactions that begin where they are begun (the driver's
    own begin only at the first change)."""

    @sa.event.listens_for(engine, "connect")
    def on_connect(connection: Any, record: Any) -> None:
        connection.isolation_level = None
        # A read-only file cannot change its mode, and can be read all the same.
        import sqlite3

        with contextlib.suppress(sqlite3.OperationalError):
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = NORMAL")
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA case_sensitive_like = OFF")

    @sa.event.listens_for(engine, "begin")
    def on_begin(connection: sa.Connection) -> None:
        is_write = connection.get_execution_options().get("is_write")
        connection.exec_driver_sql("BEGIN IMMEDIATE" if is_write else "BEGIN")


def _bring_up_to_date(book: Book) -> None:
    with book.read() as connection:
        if _revision(connection) == HEAD:
            return
    # Only now: it takes longer to load than all the rest, and is needed once in a logbook's life.
    from alembic import command
    from alembic.config import Config
    from alembic.util import CommandError

    config = Config()
    config.set_main_option("script_location", str(Path(__file__).with_name("migrations")))
    config.set_main_option("path_separator", "os")
    try:
        engine = book.engine.execution_options(is_write=True)
        if engine.dialect.name == "postgresql":
            # Whoever has waited for the lock must see the tables that were made meanwhile.
            engine = engine.execution_options(isolation_level="READ COMMITTED")
        with told(book.where), engine.begin() as connection:
            if connection.dialect.name == "postgresql":
                # Two benches that come to an empty server at once: one makes the tables, the other waits.
                connection.execute(sa.text(f"SELECT pg_advisory_xact_lock({_LOCK})"))
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
    except CommandError as error:
        raise JournalError(
            "The logbook was made by a newer version of bench-voice; nothing in it is changed.",
            mend="Update bench-voice on this machine. The journals are whole and are read in then.",
            slug="logbook-newer",
            where=book.where,
        ) from error


def _revision(connection: sa.Connection) -> str | None:
    if not sa.inspect(connection).has_table("alembic_version"):
        return None
    return connection.execute(sa.text("SELECT version_num FROM alembic_version")).scalar()


@contextlib.contextmanager
def told(where: str) -> Iterator[None]:
    """What the store raises as what a person is told."""
    try:
        yield
    except sa.exc.IntegrityError:
        raise  # another bench was there first: whoever writes knows what to do
    except sa.exc.DBAPIError as error:
        first = str(error.orig).strip().splitlines()
        why = first[0] if first else type(error.orig).__name__
        if where.startswith("postgresql"):
            raise JournalError(
                f"The workshop's logbook cannot be reached or used ({why}).",
                mend="Work goes on with the journal. It catches up by itself when the server is back.",
                slug="logbook-away",
                where=where,
            ) from error
        raise _unusable(where, why) from error


def _unusable(where: str, why: str) -> JournalError:
    return JournalError(
        f"The logbook cannot be read or written ({why}).",
        mend="Check the folder's permissions and the room on the disk. The journals are whole: move this file away and "
        "the next `bench-voice logbook` makes another from them.",
        slug="logbook-unusable",
        where=where,
    )
