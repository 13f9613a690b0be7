"""Claims that end with the process that made them: no clock, no lease, nothing to clean up.

On SQLite a byte of a file beside the store is locked, which the kernel lets go when the process
ends; on PostgreSQL an advisory lock, which the server lets go with the connection.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import struct
import sys
from pathlib import Path

from sqlalchemy import Connection, text

from service.storage.engine import Store

_LOCK = struct.Struct("hhqqi4x")  # struct flock: type, whence, start, length, pid


class Claim:
    """Something that this process alone works on, until :meth:`release` or its end."""

    def __init__(self, file: int | None, connection: Connection | None, number: int) -> None:
        self._file, self._connection, self._number = file, connection, number

    def release(self) -> None:
        """Lets go; may be called again."""
        if self._file is not None:
            file, self._file = self._file, None
            _lock(file, fcntl.F_UNLCK, self._number)  # for the copies that children have, too
            os.close(file)
        if self._connection is not None:
            connection, self._connection = self._connection, None
            try:
                connection.execute(text("SELECT pg_advisory_unlock(:n)"), {"n": self._number})
            except BaseException:
                connection.invalidate()  # the server lets go when it is closed
                raise
            finally:
                connection.close()


def claim(store: Store, name: str) -> Claim | None:
    """The claim to ``name``; ``None`` while someone else has it.

    Also refused to a second caller in the same process.
    """
    number = int.from_bytes(hashlib.sha256(name.encode()).digest()[:8]) >> 2  # fits a file offset
    if store.path is not None:
        return _by_file(Path(f"{store.path}.claims"), number)
    connection = store.engine.connect().execution_options(isolation_level="AUTOCOMMIT")
    try:
        had = connection.scalar(text("SELECT pg_try_advisory_lock(:n)"), {"n": number})
    except BaseException:
        connection.invalidate()
        connection.close()
        raise
    if had:
        return Claim(None, connection, number)
    connection.close()
    return None


def _by_file(path: Path, number: int) -> Claim | None:
    file = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    try:
        _lock(file, fcntl.F_WRLCK, number)
    except (BlockingIOError, PermissionError):
        os.close(file)
        return None
    except BaseException:
        os.close(file)
        raise
    return Claim(file, None, number)


def _lock(file: int, kind: int, number: int) -> None:
    """One byte, at once or not at all. Of the open file where there is that, so that threads of
    one process exclude each other; elsewhere of the process.
    """
    if sys.platform == "linux":
        fcntl.fcntl(file, fcntl.F_OFD_SETLK, _LOCK.pack(kind, os.SEEK_SET, number, 1, 0))
    else:
        release = kind == fcntl.F_UNLCK
        fcntl.lockf(file, fcntl.LOCK_UN if release else fcntl.LOCK_EX | fcntl.LOCK_NB, 1, number)
