"""The worker class of gunicorn: one process is the front, the others compute.

All of them are children of gunicorn, which starts again whichever dies. Among the workers of one
configuration one is the front; :func:`assign` sees to it as ``pre_fork``.
"""

from __future__ import annotations

import asyncio
import math
import os
import select
import signal
import socket
import time
from functools import cache
from itertools import count
from typing import Any

from gunicorn.workers.sync import SyncWorker

from service.front import SLOT, scratch
from service.front.door import Door, limits_here

_QUIET = 60.0
"""Seconds between two lines of the log on what was refused."""
_IDLE = 0.5
"""Seconds without a request after which a stopping worker takes the front to be done."""


@cache
def inner() -> socket.socket:
    """The socket between front and workers, in a folder that only this user may enter."""
    made = socket.socket(socket.AF_UNIX)
    made.bind(str(scratch.folder() / "socket"))
    made.listen(2048)
    return made


def assign(server: Any, worker: Worker) -> None:
    """As ``pre_fork``: the first worker of a configuration is its front; each has a slot."""
    others = server.WORKERS.values()
    taken = {each.slot for each in others}
    worker.slot = next(slot for slot in count() if slot not in taken)
    if not any(each.is_front and each.cfg is worker.cfg for each in others):
        worker.is_front = True
        # gunicorn ends the oldest where there are too many; without the front nothing answers.
        worker.age = math.inf


def replace(server: Any) -> None:
    """As ``on_reload``: the front of the old configuration goes with its workers."""
    for worker in server.WORKERS.values():
        if worker.is_front:
            worker.age = 0


class Worker(SyncWorker):
    """The front, or a worker that answers one request after the other."""

    is_front = False
    slot = 0
    """A number that no other living worker has."""
    sockets: list[Any]

    def __init__(self, *args: Any) -> None:
        super().__init__(*args)
        self._inner = inner()
        self._stopping = False

    def init_process(self) -> None:
        os.environ[SLOT] = f"{self.slot}:{os.getpid()}"
        if not self.is_front:
            self.sockets = [self._inner]
        super().init_process()

    def load_wsgi(self) -> None:
        if not self.is_front:
            super().load_wsgi()

    def handle_exit(self, sig: int, frame: Any) -> None:
        self._stopping = True
        super().handle_exit(sig, frame)

    def run(self) -> None:
        if self.is_front:
            asyncio.run(self._front())
            return
        super().run()
        if self._stopping:
            self._answer_the_rest()

    def _answer_the_rest(self) -> None:
        """What the front has taken is answered, as long as gunicorn is patient."""
        until = time.monotonic() + self.cfg.graceful_timeout / 2
        while time.monotonic() < until and select.select([self._inner], [], [], _IDLE)[0]:
            self.notify()
            try:
                self.accept(self._inner)
            except BlockingIOError:
                continue

    async def _front(self) -> None:
        loop, stop = asyncio.get_running_loop(), asyncio.Event()
        loop.add_signal_handler(signal.SIGTERM, stop.set)
        for number in (signal.SIGINT, signal.SIGQUIT):
            loop.add_signal_handler(number, os._exit, 0)
        loop.add_signal_handler(signal.SIGUSR1, self.log.reopen_files)

        limits = limits_here(int(os.environ.get("WAVESETUP_PROXIES", "0")))
        door = Door(self._inner.getsockname(), 2 * max(1, self.cfg.workers - 1), limits)
        told = time.monotonic()

        def alive() -> None:
            nonlocal told
            self.notify()
            if os.getppid() != self.ppid:
                stop.set()
            if door.refused and time.monotonic() - told > _QUIET:
                self.log.warning("refused by the front, by status: %s", dict(door.refused))
                door.refused.clear()
                told = time.monotonic()

        public = [each.sock for each in self.sockets]  # gunicorn's own wrappers
        await door.serve(public, stop, self.cfg.graceful_timeout, alive)
