"""Files through which processes share their metrics, so that no fault of theirs reaches a request.

The library maps files that grow into memory: where their file system is full, touching a new page
kills the process (SIGBUS), and each process leaves files behind. Here a file has its full size from
the start, belongs to a worker's slot, and is taken over with its counts by the next worker there.
"""

from __future__ import annotations

import os
import struct
from contextlib import suppress
from pathlib import Path

from prometheus_client import mmap_dict, values

from service.api.logs import LOGGER
from service.front import SLOT

SIZES = {"counter": 256 * 1024, "histogram": 2048 * 1024}
"""Bytes; the longest of 3,000 series take 350 each."""
_OTHER = 64 * 1024
_NOBODY = "_.db"
"""How the name ends of a file that no worker has."""
_ENTRY = struct.Struct("dd").size


class SharedFile(mmap_dict.MmapedDict):
    """A file of counts that never grows.

    Where it cannot be had, the process counts in memory of its own, which nobody else sees; what
    finds no room is not counted.
    """

    def __init__(self, filename: str, read_mode: bool = False) -> None:
        try:
            if not read_mode:
                _allocate(filename)
            super().__init__(filename, read_mode)  # type: ignore[no-untyped-call]
            if not 0 < self._used <= self._capacity:
                raise ValueError(self._used)
        except (OSError, RuntimeError, ValueError, struct.error) as error:
            if read_mode:
                raise
            self._give_up(filename)
            if not filename.endswith(_NOBODY):
                LOGGER.warning("metrics of this worker are not shared: %s", type(error).__name__)
            super().__init__(_unshared(filename))  # type: ignore[no-untyped-call]

    def _give_up(self, filename: str) -> None:
        """What has been opened of a broken file; it would also break the reading of all others."""
        if (file := getattr(self, "_f", None)) is not None:
            file.close()
            Path(filename).unlink(missing_ok=True)

    def _init_value(self, key: str) -> None:
        # As the library lays it out; a key is padded by up to 8 bytes. The end of the file is a
        # place that is written and never read.
        if self._used + len(key.encode()) + 12 + _ENTRY > self._capacity - _ENTRY:
            self._positions[key] = self._capacity - _ENTRY
        else:
            super()._init_value(key)  # type: ignore[no-untyped-call]


def _allocate(filename: str) -> None:
    if filename.endswith(_NOBODY):
        raise FileNotFoundError
    size = SIZES.get(Path(filename).name.partition("_")[0], _OTHER)
    file = os.open(filename, os.O_RDWR | os.O_CREAT, 0o600)
    try:
        os.posix_fallocate(file, 0, size)
    except OSError:
        # Half a file would be touched where it has no pages.
        Path(filename).unlink(missing_ok=True)
        raise
    finally:
        os.close(file)


def _unshared(filename: str) -> str:
    """The path of a file that no file system has, as long as it is open."""
    made = os.memfd_create("metrics")
    os.posix_fallocate(made, 0, SIZES.get(Path(filename).name.partition("_")[0], _OTHER))
    return f"/proc/self/fd/{made}"


def _identity() -> str:
    """The worker's slot; empty for a process beside the workers, which counts for itself."""
    slot, _, pid = os.environ.get(SLOT, "").partition(":")
    return slot if pid == str(os.getpid()) else ""


def share() -> None:
    """Before the first metric is made."""
    if folder := os.environ.get("PROMETHEUS_MULTIPROC_DIR"):
        values.MmapedDict = SharedFile  # type: ignore[attr-defined]
        values.ValueClass = values.MultiProcessValue(_identity)  # type: ignore[no-untyped-call]
        # Now, and not when the first one is counted: there may be no room by then.
        for kind in SIZES:
            with suppress(OSError):
                _allocate(f"{folder}/{kind}_{_identity()}.db")
