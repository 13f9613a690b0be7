"""A folder in memory for what the processes of one gunicorn share; those of dead ones are removed.

Gunicorn's main process holds a lock in it, which ends with the last of its workers however they
end. Nothing in the folder outlives them.
"""

from __future__ import annotations

import fcntl
import os
import shutil
import tempfile
from contextlib import suppress
from functools import cache
from pathlib import Path

MEMORY = Path("/dev/shm")  # noqa: S108  # nothing here may wait for a disk
_PREFIX = f"wavesetup-{os.getuid()}-"


def place() -> Path:
    """Where such folders are made."""
    return MEMORY if os.access(MEMORY, os.W_OK | os.X_OK) else Path(tempfile.gettempdir())


@cache
def folder() -> Path:
    """The folder of this gunicorn, made at the first call: before any worker starts."""
    _remove_dead()
    made = Path(tempfile.mkdtemp(prefix=_PREFIX, dir=place()))
    _lock(made)
    return made


def _lock(path: Path) -> int:
    """The descriptor that holds the lock. Raises :class:`BlockingIOError` where another does."""
    held = os.open(path / "lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    try:
        fcntl.flock(held, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        os.close(held)
        raise
    return held


def _remove_dead() -> None:
    for path in place().glob(_PREFIX + "*"):
        # One that is just being made has no lock yet.
        with suppress(OSError):
            if (path / "lock").exists():
                held = _lock(path)
                shutil.rmtree(path, ignore_errors=True)
                os.close(held)


def remove() -> None:
    """When gunicorn ends."""
    shutil.rmtree(folder(), ignore_errors=True)
