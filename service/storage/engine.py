"""The database: how it is opened, and the one way to read and to write in it.

A unit of work is as short as what it reads or writes. It is not the whole request: no lock is
held while hydrostatics are computed.
"""

from __future__ import annotations

import os
import sqlite3
import weakref
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, Engine, Executable, create_engine, event, text
from sqlalchemy.engine import URL, make_url
from sqlalchemy.exc import ArgumentError, InterfaceError, OperationalError, SQLAlchemyError
from sqlalchemy.exc import TimeoutError as NoConnectionError
from sqlalchemy.orm import Session

if TYPE_CHECKING:
    from service.storage.usage import Quotas

DEFAULT_URL = "sqlite:///.data/wavesetup.sqlite"
PATIENCE = 3
"""Seconds a write waits for another one's lock, and a request for a connection.

Twice that is less than a request may take, so a locked store costs an answer and no worker.
"""
LOCK_NOT_AVAILABLE = "55P03"
"""PostgreSQL's own code for a lock that was not had in time."""
HASTE = 0.05
"""Seconds one waits that may be left out."""


STORE_FAULTS = (OperationalError, InterfaceError, NoConnectionError)
"""What is raised where the database cannot be used just now."""


class StoreError(RuntimeError):
    """The store cannot be used as it is set."""


def is_locked(error: BaseException) -> bool:
    """Whether the database answers and only a lock of someone else is in the way."""
    cause = getattr(error, "orig", None)
    code = getattr(cause, "sqlite_errorcode", None)
    if code is not None:
        return code & 0xFF in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED)
    return getattr(cause, "sqlstate", None) == LOCK_NOT_AVAILABLE


class Store:
    """A database by its URL: ``sqlite:///path`` or ``postgresql://user@host/name``.

    Opens no connection until the first use, so it may be made before a server forks.
    """

    def __init__(self, url: str = DEFAULT_URL) -> None:
        self.url = _url(url)
        self.quotas: Quotas | None = None
        """The most that each outfit may store; ``None``: as by default."""
        self.is_sqlite = self.url.get_backend_name() == "sqlite"
        self.engine = _sqlite(self.url) if self.is_sqlite else _postgresql(self.url)
        self._writing = self.engine.execution_options(writing=True)
        self.committing: Callable[[], AbstractContextManager[None]] = nullcontext
        """Goes round every commit: whoever may be broken off has to know what is stored."""
        self._hasty = self._writing.execution_options(patience=HASTE)
        # A connection must not be used on both sides of a fork. The hook stays as long as the
        # process, the store need not.
        engine = weakref.ref(self.engine)
        os.register_at_fork(after_in_child=lambda: _forget(engine()))
        weakref.finalize(self, self.engine.dispose)

    @property
    def path(self) -> Path | None:
        """The file of an SQLite store."""
        return Path(self.url.database or "") if self.is_sqlite else None

    @contextmanager
    def connected(self) -> Iterator[Connection]:
        """A connection to look something up; cheaper than a session, and nothing is written."""
        with self.engine.connect() as connection:
            yield connection

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A session that sees one state of the store, and writes nothing."""
        with Session(self.engine, expire_on_commit=False, autoflush=False) as session:
            yield session

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """A session whose writes are all kept when the block ends, or none when it raises."""
        with Session(
            self._writing, expire_on_commit=False, info={"quotas": self.quotas}
        ) as session:
            yield session
            with self.committing():
                session.commit()

    def attempt(self, statement: Executable) -> None:
        """A write that is left out where it cannot be done at once: nothing hangs on it."""
        with suppress(SQLAlchemyError), self._hasty.begin() as connection:
            connection.execute(statement)

    def is_writable(self) -> bool:
        """Whether a write is kept now; one that only has to wait for another counts as kept."""
        try:
            with self._hasty.begin() as connection:
                connection.execute(text("UPDATE alembic_version SET version_num = version_num"))
        except SQLAlchemyError as error:
            cause = getattr(error, "orig", None)
            return (
                getattr(cause, "sqlite_errorcode", None) == sqlite3.SQLITE_BUSY
                or getattr(cause, "sqlstate", None) == LOCK_NOT_AVAILABLE
            )
        return True

    def close(self) -> None:
        self.engine.dispose()


def _forget(engine: Engine | None) -> None:
    """Drops the connections without closing them: they are the parent's."""
    if engine is not None:
        engine.dispose(close=False)


def _url(told: str) -> URL:
    try:
        url = make_url(told)
    except ArgumentError:
        raise StoreError("WAVESETUP_DATABASE_URL is no database URL.") from None
    if url.drivername in ("postgres", "postgresql"):
        return url.set(drivername="postgresql+psycopg")
    if url.drivername == "postgresql+psycopg":
        return url
    if url.drivername in ("sqlite", "sqlite+pysqlite") and url.database not in (
        None, "", ":memory:",
    ):  # fmt: skip
        return url
    raise StoreError(
        "WAVESETUP_DATABASE_URL has to be sqlite:///path/to/file or postgresql://user@host/name."
    )


def _sqlite(url: URL) -> Engine:
    folder = Path(url.database or "").parent
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    engine = create_engine(url)

    @event.listens_for(engine, "connect")
    def configure(connection: Any, _record: Any) -> None:
        # The driver would begin transactions by itself, and late; see begin() below.
        connection.isolation_level = None
        for pragma in (
            f"busy_timeout = {PATIENCE * 1000}",  # first: the next one may have to wait
            "journal_mode = WAL",  # readers do not wait for a writer
            "synchronous = FULL",  # what was acknowledged outlives a power cut
            "foreign_keys = ON",
        ):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        # A transaction that reads first and writes later is refused, without waiting, when
        # someone wrote in between. One that is going to write takes the lock at once and waits.
        options = connection.get_execution_options()
        patience = options.get("patience", PATIENCE)
        if connection.info.get("patience", PATIENCE) != patience:  # as it was left the last time
            connection.exec_driver_sql(f"PRAGMA busy_timeout = {round(1000 * patience)}")
            connection.info["patience"] = patience
        connection.exec_driver_sql("BEGIN IMMEDIATE" if options.get("writing") else "BEGIN")

    return engine


def _postgresql(url: URL) -> Engine:
    engine = create_engine(
        url,
        pool_size=2,  # a worker does one thing at a time
        max_overflow=8,  # other servers have threads
        pool_timeout=PATIENCE,
        pool_pre_ping=True,
        connect_args={
            "connect_timeout": PATIENCE,
            # A machine that is gone holds no lock for longer than these probes take.
            "options": f"-c lock_timeout={PATIENCE}s -c statement_timeout=60s -c timezone=UTC "
            "-c tcp_keepalives_idle=5 -c tcp_keepalives_interval=5 -c tcp_keepalives_count=2",
        },
    )

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        if (patience := connection.get_execution_options().get("patience")) is not None:
            connection.exec_driver_sql(f"SET LOCAL lock_timeout = {round(1000 * patience)}")

    return engine
