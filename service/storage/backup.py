"""Backup and restore of a whole store.

A backup is one state of the store, taken while others go on writing. SQLite: a database file by
SQLite's own online backup. PostgreSQL: a dump in pg_dump's custom format, for which the client
programs of PostgreSQL have to be there, at least as new as the server.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import subprocess
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path

from service.storage.engine import Store, StoreError
from service.storage.schema import head


def backup(store: Store, target: Path) -> None:
    """Writes the store to a new file that only its owner may read; it holds personal data.

    Raises ``FileExistsError`` for a file that is there, :class:`StoreError` when it fails; then
    no file is left.
    """
    os.close(os.open(target, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
    try:
        if store.path is not None:
            with (
                closing(sqlite3.connect(store.path)) as source,
                closing(sqlite3.connect(target)) as copy,
            ):
                source.backup(copy)
                copy.execute("PRAGMA journal_mode = DELETE")  # one file, whole in itself
            check(target)
        else:
            _run(store, "pg_dump", "--format=custom", "--no-owner", f"--file={target}")
    except BaseException:
        target.unlink()
        raise


def restore(store: Store, source: Path) -> None:
    """Puts a backup in the place of all that is in the store; all of it or nothing.

    Raises :class:`StoreError` for a file that is no whole backup of this program's kind.
    """
    if store.path is None:
        _run(
            store, "pg_restore", "--clean", "--if-exists", "--no-owner", "--single-transaction",
            str(source),
        )  # fmt: skip
        return
    check(source)
    store.close()
    with (
        closing(_opened(source)) as copy,
        closing(sqlite3.connect(store.path, timeout=30)) as target,
    ):
        copy.backup(target)
        target.execute("PRAGMA journal_mode = WAL")


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
    if revision > (head() or ""):
        raise StoreError(f"{source} was made by a later version of this program ({revision}).")


def _opened(source: Path) -> sqlite3.Connection:
    # As a URI: in a path as it stands "?", "#" and "%" would mean something else.
    return sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro", uri=True)


def _run(store: Store, program: str, *arguments: str) -> None:
    found = shutil.which(program)
    if found is None:
        raise StoreError(f"{program} is not there; install PostgreSQL's client programs.")
    url = store.url.set(drivername="postgresql", password=None)
    address = f"--dbname={url.render_as_string()}"
    done = subprocess.run(  # noqa: S603  # the program and the operator's own arguments
        [found, address, *arguments], env=_environment(store), capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    if done.returncode != 0:
        raise StoreError(f"{program}: {done.stderr.strip()}")


def _environment(store: Store) -> Mapping[str, str]:
    # Not among the arguments, where every user of the machine could read it.
    password = store.url.password
    return os.environ | ({"PGPASSWORD": str(password)} if password else {})
