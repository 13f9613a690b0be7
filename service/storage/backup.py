"""Backup and restore of a whole store.

A backup is one state of the store, taken while others go on writing. SQLite: a database file by
SQLite's own online backup. PostgreSQL: a dump in pg_dump's custom format, for which the client
programs of PostgreSQL have to be there, at least as new as the server.
"""

from __future__ import annotations

import logging
import os
import re
import shutil
import sqlite3
import subprocess
from collections.abc import Callable, Mapping
from contextlib import closing, suppress
from pathlib import Path
from tempfile import TemporaryFile
from typing import Any

from service.storage.engine import Store, StoreError
from service.storage.schema import later
from service.storage.tables import Base, now

LOGGER = logging.getLogger("wavesetup")

# All tables of a store, also those that a backup made before a migration knows nothing of; but
# nothing that others may keep in the same database.
_TABLES = ", ".join(sorted([*Base.metadata.tables, "alembic_version"]))
_EMPTY = f"DROP TABLE IF EXISTS {_TABLES} CASCADE"


def backup(store: Store, target: Path) -> None:
    """Writes the store to a new file that only its owner may read; it holds personal data.

    Raises ``FileExistsError`` for a file that is there, :class:`StoreError` when it fails; then
    no file is left.
    """
    os.close(os.open(target, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
    try:
        if store.path is not None:
            _copy(store.path, target, "DELETE")  # one file, whole in itself
            check(target)
        else:
            _run(
                "pg_dump", _address(store), "--format=custom", "--no-owner", f"--file={target}",
                env=_environment(store),
            )  # fmt: skip
    except BaseException:
        target.unlink()
        raise


def before_migration(store: Store, folder: Path | None = None) -> Callable[[str], Path]:
    """What backs the store up before a migration, into ``folder``.

    By default the folder of an SQLite store, else ``.data/backups``. Raises :class:`StoreError`
    where the backup cannot be made; then nothing is migrated.
    """
    where = folder or (Path(".data/backups") if store.path is None else store.path.parent)

    def back_up(revision: str) -> Path:
        target = where / f"wavesetup-{revision}-{now():%Y%m%dT%H%M%S%fZ}.backup"
        try:
            where.mkdir(mode=0o700, parents=True, exist_ok=True)
            backup(store, target)
        except (OSError, StoreError) as error:
            raise StoreError(
                f"Nothing was migrated: no backup could be written to {where} ({error}). "
                "Give another WAVESETUP_BACKUP_FOLDER, or back up by other means first and run "
                "“db upgrade --no-backup”."
            ) from None
        LOGGER.warning("backed up before a migration: %s", target)
        return target

    return back_up


def restore(store: Store, source: Path) -> None:
    """Puts a backup in the place of all that is in the store; all of it or nothing.

    An SQLite store so damaged that nothing can be written over it is kept beside, as ``….damaged``.

    Raises :class:`StoreError` for a file that is no whole backup of this program's kind.
    """
    if store.path is None:
        _refuse_later(source, _revision(source))
        # Written out first: to psql, a backup that breaks off would be one that ends there.
        with TemporaryFile() as script:
            _run("pg_restore", "--no-owner", "--file=-", str(source), stdout=script)
            script.seek(0)
            _run(
                "psql", _address(store), "--no-psqlrc", "--quiet", "--set=ON_ERROR_STOP=1",
                "--single-transaction", f"--command={_EMPTY}", "--file=-",
                stdin=script, stdout=subprocess.DEVNULL, env=_environment(store),
            )  # fmt: skip
        return
    check(source)
    store.close()
    if _is_broken(store.path):
        _set_aside(store.path)
    _copy(source, store.path, "WAL")


def check(source: Path) -> None:
    """Raises :class:`StoreError` unless the file is a whole SQLite store that can be read here."""
    try:
        with closing(_opened(source)) as copy:
            found = copy.execute("PRAGMA integrity_check").fetchone()[0]
            broken = copy.execute("PRAGMA foreign_key_check").fetchone()
            (revision,) = copy.execute("SELECT version_num FROM alembic_version").fetchone()
    except sqlite3.Error as error:
        raise StoreError(f"{source} is no backup of a store: {error}.") from None
    if found != "ok" or broken is not None:
        raise StoreError(f"{source} is damaged.")
    _refuse_later(source, revision)


def _refuse_later(source: Path, revision: str) -> None:
    if later(revision):
        raise StoreError(f"{source} was made by a later version of this program ({revision}).")


def _revision(source: Path) -> str:
    """Where the schema stands in a dump."""
    with TemporaryFile() as script:
        _run(
            "pg_restore", "--data-only", "--table=alembic_version", "--file=-", str(source),
            stdout=script,
        )  # fmt: skip
        script.seek(0)
        found = re.search(rb"^COPY .+\n(\w+)$", script.read(), re.MULTILINE)
    if found is None:
        raise StoreError(f"{source} is no backup of a store.")
    return found[1].decode()


def _copy(source: Path, target: Path, journal: str) -> None:
    try:
        with (
            closing(_opened(source)) as origin,
            closing(sqlite3.connect(target, timeout=30)) as copy,
        ):
            origin.backup(copy)
            copy.execute(f"PRAGMA journal_mode = {journal}")
    except sqlite3.Error as error:
        raise StoreError(f"{source} could not be copied: {error}.") from None


def _is_broken(path: Path) -> bool:
    """Whether SQLite does not even write over it."""
    try:
        with closing(sqlite3.connect(path, timeout=30)) as store:
            store.execute("BEGIN IMMEDIATE")
    except sqlite3.OperationalError:  # locked, or not to be written
        return False
    except sqlite3.DatabaseError:
        return True
    return False


def _set_aside(path: Path) -> None:
    """Renames the files of a store. Its log first: by itself it would be taken for another's."""
    for end in ("-wal", "-shm", ""):
        with suppress(FileNotFoundError):
            Path(f"{path}{end}").replace(f"{path}.damaged{end}")


def _opened(source: Path) -> sqlite3.Connection:
    # As a URI: in a path as it stands "?", "#" and "%" would mean something else.
    return sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro", uri=True)


def _run(program: str, *arguments: str, **options: Any) -> None:
    found = shutil.which(program)
    if found is None:
        raise StoreError(f"{program} is not there; install PostgreSQL's client programs.")
    done = subprocess.run(  # noqa: S603  # the program and the operator's own arguments
        [found, *arguments], stderr=subprocess.PIPE, text=True, check=False, **options
    )
    if done.returncode != 0:
        raise StoreError(f"{program}: {done.stderr.strip()}")


def _address(store: Store) -> str:
    url = store.url.set(drivername="postgresql", password=None)
    return f"--dbname={url.render_as_string()}"


def _environment(store: Store) -> Mapping[str, str]:
    # Not among the arguments, where every user of the machine could read it.
    password = store.url.password
    return os.environ | ({"PGPASSWORD": str(password)} if password else {})
