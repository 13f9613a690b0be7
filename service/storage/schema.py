"""The schema and its migrations: up, down, and where a store stands."""

from __future__ import annotations

import fcntl
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection, text
from sqlalchemy.exc import SQLAlchemyError

from service.storage.engine import Store, StoreError

FOLDER = Path(__file__).parent / "migrations"


Before = Callable[[str], object]
"""Called with the revision of a store that is about to be migrated; not for an empty one."""


def upgrade(store: Store, revision: str = "head", before: Before | None = None) -> None:
    """Brings the schema up to ``revision``. Safe when several processes do it at once.

    Raises :class:`StoreError` for a store that a later version of this program has migrated.
    """
    with _alone(store) as connection:
        found = _checked(connection)
        if before is not None and found not in (None, head()):
            before(str(found))
        command.upgrade(_config(connection), revision)


def downgrade(store: Store, revision: str = "base", before: Before | None = None) -> None:
    """Takes the schema down to ``revision``; what it held beyond that is lost.

    Raises :class:`StoreError` for a store that a later version of this program has migrated.
    """
    with _alone(store) as connection:
        found = _checked(connection)
        if before is not None and found is not None:
            before(found)
        command.downgrade(_config(connection), revision)


def later(revision: str | None) -> bool:
    """Whether a store at ``revision`` was migrated by a later version of this program."""
    script = ScriptDirectory.from_config(_config())
    return revision is not None and revision not in {s.revision for s in script.walk_revisions()}


def _checked(connection: Connection) -> str | None:
    found = MigrationContext.configure(connection).get_current_revision()
    if later(found):
        raise StoreError(
            f"The store is at {found}, this program only knows {head()}: a later version has "
            "migrated it. Run that version, or restore the backup it made before its migration."
        )
    return found


def current(store: Store) -> str | None:
    """The revision that the store stands at, ``None`` when it is empty."""
    with store.connected() as connection:
        return MigrationContext.configure(connection).get_current_revision()


def head() -> str | None:
    """The revision that this program needs."""
    return ScriptDirectory.from_config(_config()).get_current_head()


def is_ready(store: Store) -> bool:
    """Whether the store answers and is at the revision that this program needs."""
    try:
        return current(store) == head()
    except SQLAlchemyError:
        return False


def differences(store: Store) -> list[object]:
    """What the tables of the program have that the migrations do not make, or the reverse."""
    from alembic.autogenerate import compare_metadata  # noqa: PLC0415  # slow, and for tests

    from service.storage.tables import Base  # noqa: PLC0415

    with store.connected() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        return list(compare_metadata(context, Base.metadata))


def _config(connection: Connection | None = None) -> Config:
    config = Config()
    config.set_main_option("script_location", str(FOLDER).replace("%", "%%"))
    config.attributes["connection"] = connection
    return config


@contextmanager
def _alone(store: Store) -> Iterator[Connection]:
    """A connection for a migration, while no other process runs one."""
    if store.path is None:
        with store.engine.begin() as connection:
            # Any number, the same for all; let go when the transaction ends.
            connection.execute(text("SELECT pg_advisory_xact_lock(7238941)"))
            yield connection
        return
    with Path(f"{store.path}.migrating").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        with store.engine.execution_options(writing=True).begin() as connection:
            yield connection
